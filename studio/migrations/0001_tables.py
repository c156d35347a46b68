"""The house: resources and claims, places, people, gear, faults, whereabouts, service, letters."""

import datetime
import django.core.validators
import django.db.models.deletion
import django.db.models.functions.comparison
import django.db.models.functions.text
import studio.models.places
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [('studio', '0001_initial'), ('studio', '0003_heartbeat'), ('studio', '0004_house_hours_and_terms'), ('studio', '0005_people_rooms_and_rest'), ('studio', '0006_claims_until'), ('studio', '0007_gear_lists'), ('studio', '0008_site_revisions'), ('studio', '0009_gear_states_and_whereabouts')]

    initial = True

    dependencies = [
        ('contenttypes', '0002_remove_content_type_name'),
    ]

    operations = [
        migrations.CreateModel(
            name='Resource',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('room', 'Room'), ('person', 'Person'), ('unit', 'Unit'), ('channel', 'Channel'), ('stock', 'Stock')], max_length=10)),
                ('name', models.CharField(max_length=200)),
                ('exclusive', models.BooleanField(default=True)),
                ('capacity', models.PositiveIntegerField(default=1)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('exclusive', False), ('capacity', 1), _connector='OR'), name='studio_resource_exclusive_is_one')],
            },
        ),
        migrations.CreateModel(
            name='Claim',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('resource', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='claims', to='studio.resource')),
                ('starts', models.DateTimeField()),
                ('ends', models.DateTimeField(blank=True, null=True)),
                ('until', models.GeneratedField(db_persist=True, expression=django.db.models.functions.comparison.Coalesce('ends', models.Value(datetime.datetime(9999, 1, 1, 0, 0, tzinfo=datetime.timezone.utc))), output_field=models.DateTimeField())),
                ('purpose', models.CharField(choices=[('setup', 'setup'), ('session', 'session'), ('spare', 'spare time agreed'), ('stays', 'stays set'), ('turnaround', 'turnaround'), ('call', 'called'), ('gear', 'in use'), ('repair', 'out for repair'), ('service', 'being serviced'), ('travel', 'on its way'), ('lent', 'lent or hired out'), ('not_here', 'not in the house'), ('closure', 'closed'), ('upkeep', 'upkeep or repair'), ('leave', 'leave'), ('busy', 'busy elsewhere')], max_length=12)),
                ('firm', models.BooleanField(default=True)),
                ('exclusive', models.BooleanField(default=True)),
                ('quantity', models.PositiveIntegerField(default=1)),
                ('reason', models.CharField(max_length=200)),
                ('origin_type', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to='contenttypes.contenttype')),
                ('origin_id', models.PositiveBigIntegerField()),
            ],
            options={
                'indexes': [models.Index(fields=['resource', 'until', 'starts'], name='studio_claim_when'), models.Index(fields=['origin_type', 'origin_id'], name='studio_claim_origin')],
                'constraints': [models.CheckConstraint(condition=models.Q(('ends__isnull', True), ('ends__gt', models.F('starts')), _connector='OR'), name='studio_claim_ends_after_start'), models.CheckConstraint(condition=models.Q(('quantity__gte', 1)), name='studio_claim_takes_something')],
            },
        ),
        migrations.CreateModel(
            name='Site',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=80, unique=True)),
                ('zone', models.CharField(help_text='IANA name, like Europe/Berlin', max_length=60, validators=[studio.models.places.known_zone])),
                ('opens', models.TimeField(default=datetime.time(10, 0), verbose_name='office opens')),
                ('closes', models.TimeField(default=datetime.time(18, 0), verbose_name='office closes')),
                ('office_days', models.CharField(default='12345', max_length=7, validators=[django.core.validators.RegexValidator('\\A(?!.*(.).*\\1)[1-7]+\\Z', 'Write each office day once, 1 for Monday to 7.')])),
                ('answer_hours', models.PositiveSmallIntegerField(default=24, help_text='Counted on office days only.', validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(240)], verbose_name='hours to answer a challenge')),
                ('hold_days', models.PositiveSmallIntegerField(default=7, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(365)], verbose_name='days a hold stands')),
                ('decide_hour', models.TimeField(default=datetime.time(16, 0), help_text='From then on they need a yes or no.', verbose_name='hour at which holds for tomorrow are asked')),
                ('cancel_steps', models.TextField(blank=True, default='72 h: 50 %\n24 h: 100 %', help_text='One a line: with this much notice or less, this part of the price, like “72 h: 50 %”.', validators=[studio.models.places.readable_steps], verbose_name='cancellation steps')),
                ('deposit_percent', models.PositiveSmallIntegerField(default=50, validators=[django.core.validators.MaxValueValidator(100)], verbose_name='deposit, %')),
                ('notice', models.CharField(blank=True, default='in writing, by e-mail or letter', max_length=120, verbose_name='how notice must come')),
                ('rest_hours', models.PositiveSmallIntegerField(default=11, help_text='A warning below it; 0 for none. 11 is the usual European figure: check local law.', validators=[django.core.validators.MaxValueValidator(24)], verbose_name="hours of rest between two days' calls")),
                ('weekly_rest_hours', models.PositiveSmallIntegerField(default=35, help_text='A warning below it; 0 for none. 35 is the usual European figure: check local law.', validators=[django.core.validators.MaxValueValidator(167)], verbose_name='hours of unbroken rest in any seven days')),
                ('revision', models.PositiveBigIntegerField(default=0, editable=False)),
                ('epoch', models.PositiveBigIntegerField(default=0, editable=False)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('closes__gt', models.F('opens'))), name='studio_site_closes_after_opening')],
            },
        ),
        migrations.CreateModel(
            name='Room',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('resource', models.OneToOneField(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='%(class)s', to='studio.resource')),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='rooms', to='studio.site')),
                ('name', models.CharField(max_length=80)),
                ('remark', models.CharField(blank=True, max_length=120)),
                ('setup_minutes', models.PositiveSmallIntegerField(default=60)),
                ('turnaround_minutes', models.PositiveSmallIntegerField(default=60)),
                ('lines', models.PositiveSmallIntegerField(default=0)),
                ('recorder_inputs', models.PositiveSmallIntegerField(default=0)),
                ('people', models.PositiveSmallIntegerField(default=0, verbose_name='most people')),
                ('bookable', models.BooleanField(default=True, help_text='Not for what rooms share: a machine room, a booth between two rooms, a set of tie lines.', verbose_name='can be booked by itself')),
                ('quiet_from', models.TimeField(blank=True, null=True, verbose_name='no loud work from')),
                ('quiet_until', models.TimeField(blank=True, help_text="The next day's hour, where it is the earlier one.", null=True, verbose_name='until')),
                ('order', models.PositiveSmallIntegerField(default=0)),
                ('parts', models.ManyToManyField(blank=True, related_name='wholes', to='studio.room')),
            ],
            options={
                'ordering': ['site_id', 'order', 'name'],
                'constraints': [models.UniqueConstraint(fields=('site', 'name'), name='studio_room_name_in_site'), models.CheckConstraint(condition=models.Q(models.Q(('quiet_from__isnull', True), ('quiet_until__isnull', True)), models.Q(('quiet_from__isnull', False), ('quiet_until__isnull', False)), _connector='OR'), name='studio_room_quiet_hours_whole')],
            },
        ),
        migrations.CreateModel(
            name='RoomPair',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('first', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='pairs_first', to='studio.room')),
                ('second', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='pairs_second', to='studio.room')),
                ('tie_lines', models.PositiveSmallIntegerField(default=0, verbose_name='tie lines')),
                ('sight', models.BooleanField(default=False, verbose_name='they see each other')),
                ('cue_feed', models.BooleanField(default=False, verbose_name='a cue feed joins them')),
                ('sound_carries', models.BooleanField(default=False, verbose_name='loud work in one is heard in the other')),
                ('remark', models.CharField(blank=True, max_length=120)),
            ],
            options={
                'ordering': ['first', 'second'],
                'constraints': [models.UniqueConstraint(fields=('first', 'second'), name='studio_room_pair_once'), models.CheckConstraint(condition=models.Q(('first__lt', models.F('second'))), name='studio_room_pair_in_order')],
            },
        ),
        migrations.CreateModel(
            name='GearModel',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('maker', models.CharField(blank=True, max_length=80)),
                ('name', models.CharField(max_length=80)),
                ('kind', models.CharField(choices=[('microphone', 'microphone'), ('preamp', 'preamp'), ('di', 'DI box'), ('equaliser', 'equaliser'), ('compressor', 'compressor'), ('limiter', 'limiter'), ('converter', 'converter'), ('monitor', 'monitor'), ('headphone_amp', 'headphone amplifier'), ('headphones', 'headphones'), ('instrument', 'instrument'), ('amplifier', 'amplifier'), ('recorder', 'recorder'), ('adaptor', 'adaptor'), ('effect', 'effect'), ('stand', 'stand'), ('cable', 'cable'), ('consumable', 'consumable'), ('other', 'something else')], max_length=14)),
                ('channels', models.PositiveSmallIntegerField(default=0)),
                ('remark', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ['kind', 'maker', 'name'],
                'constraints': [models.UniqueConstraint(fields=('maker', 'name'), name='studio_gear_model_once')],
            },
        ),
        migrations.CreateModel(
            name='MicrophoneSpec',
            fields=[
                ('gear_model', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='microphone', serialize=False, to='studio.gearmodel')),
                ('transducer', models.CharField(choices=[('moving-coil', 'moving-coil'), ('large moving-coil', 'large moving-coil'), ('small condenser', 'small condenser'), ('large condenser', 'large condenser'), ('ribbon', 'ribbon'), ('boundary', 'boundary'), ('clip condenser', 'clip condenser')], max_length=20)),
                ('patterns', models.CharField(default='cardioid', max_length=80)),
                ('phantom', models.CharField(choices=[('needs', 'needs phantom'), ('must_not', 'must not have phantom'), ('indifferent', 'does not mind phantom'), ('unknown', 'phantom not known: treat as must not')], default='unknown', max_length=12)),
                ('own_supply', models.BooleanField(default=False)),
                ('current_ma', models.FloatField(blank=True, null=True)),
                ('sensitivity_mv_pa', models.FloatField(blank=True, null=True)),
                ('max_spl_db', models.FloatField(blank=True, null=True)),
                ('pad_db', models.FloatField(default=0)),
                ('weight_g', models.PositiveIntegerField(blank=True, null=True)),
                ('self_noise_dba', models.FloatField(blank=True, null=True)),
                ('output_ohm', models.FloatField(blank=True, null=True)),
            ],
        ),
        migrations.CreateModel(
            name='DirectBoxSpec',
            fields=[
                ('gear_model', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='direct_box', serialize=False, to='studio.gearmodel')),
                ('active', models.BooleanField()),
                ('battery', models.BooleanField(default=False, verbose_name='works from a battery too')),
                ('phantom', models.CharField(choices=[('needs', 'needs phantom'), ('must_not', 'must not have phantom'), ('indifferent', 'does not mind phantom'), ('unknown', 'phantom not known: treat as must not')], default='unknown', max_length=12)),
                ('current_ma', models.FloatField(blank=True, null=True)),
            ],
        ),
        migrations.CreateModel(
            name='PreampSpec',
            fields=[
                ('gear_model', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='preamp', serialize=False, to='studio.gearmodel')),
                ('switching', models.CharField(choices=[('per_channel', 'one switch a channel'), ('per_bank', 'one switch a bank'), ('whole_unit', 'one switch for the whole unit'), ('always_on', 'always on'), ('none', 'no phantom')], max_length=12)),
                ('bank_size', models.PositiveSmallIntegerField(default=1)),
                ('drain_seconds', models.PositiveSmallIntegerField(default=60)),
                ('gain_min_db', models.FloatField(default=0)),
                ('gain_max_db', models.FloatField(default=60)),
                ('phantom_supply_ma', models.FloatField(blank=True, null=True)),
                ('pad_db', models.FloatField(default=0)),
                ('gain_step_db', models.FloatField(blank=True, null=True, verbose_name='gain is set in steps of, dB')),
                ('input_ohms', models.CharField(blank=True, help_text='With a space between, the usual one first: 1200 300.', max_length=60, validators=[django.core.validators.RegexValidator('\\A\\d+(\\.\\d+)?( \\d+(\\.\\d+)?)*\\Z', 'Write figures with a space between, like 300 1200.')], verbose_name='input impedances that can be switched, ohm')),
                ('high_pass_hz', models.CharField(blank=True, help_text='With a space between: 45 70.', max_length=60, validators=[django.core.validators.RegexValidator('\\A\\d+(\\.\\d+)?( \\d+(\\.\\d+)?)*\\Z', 'Write figures with a space between, like 300 1200.')], verbose_name='high-pass corners, Hz')),
                ('polarity', models.BooleanField(default=False, verbose_name='has a polarity switch')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('bank_size__gte', 1)), name='studio_preamp_bank_holds_a_channel')],
            },
        ),
        migrations.CreateModel(
            name='GearUnit',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('resource', models.OneToOneField(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='%(class)s', to='studio.resource')),
                ('gear_model', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='units', to='studio.gearmodel')),
                ('tag', models.CharField(max_length=40)),
                ('serial', models.CharField(blank=True, max_length=60)),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='units', to='studio.site')),
                ('home_room', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='units', to='studio.room')),
                ('storage', models.CharField(blank=True, max_length=120, verbose_name='storage place')),
                ('phantom', models.CharField(blank=True, choices=[('needs', 'needs phantom'), ('must_not', 'must not have phantom'), ('indifferent', 'does not mind phantom'), ('unknown', 'phantom not known: treat as must not')], max_length=12)),
                ('value', models.DecimalField(blank=True, decimal_places=2, max_digits=10, null=True)),
                ('currency', models.CharField(blank=True, max_length=3, validators=[django.core.validators.RegexValidator('\\A[A-Z]{3}\\Z', 'Write the currency as three capital letters, like EUR.')])),
                ('owner', models.CharField(blank=True, max_length=80)),
                ('bought', models.CharField(blank=True, max_length=10, validators=[django.core.validators.RegexValidator('\\A\\d{4}(-\\d\\d(-\\d\\d)?)?\\Z', 'Write it like 2021-04-03, 2021-04 or 2021.')])),
                ('matched', models.CharField(blank=True, max_length=40, verbose_name='matched with, a word that they share')),
                ('retired', models.BooleanField(default=False)),
                ('remark', models.CharField(blank=True, max_length=1000)),
            ],
            options={
                'ordering': ['tag'],
                'constraints': [models.UniqueConstraint(django.db.models.functions.text.Lower('tag'), name='studio_unit_tag_once')],
            },
        ),
        migrations.CreateModel(
            name='Channel',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('resource', models.OneToOneField(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='%(class)s', to='studio.resource')),
                ('unit', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='channels', to='studio.gearunit')),
                ('number', models.PositiveSmallIntegerField()),
            ],
            options={
                'ordering': ['unit', 'number'],
                'constraints': [models.UniqueConstraint(fields=('unit', 'number'), name='studio_channel_number_once')],
            },
        ),
        migrations.CreateModel(
            name='Stock',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('resource', models.OneToOneField(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='%(class)s', to='studio.resource')),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stock', to='studio.site')),
                ('kind', models.CharField(choices=[('stand', 'stand'), ('cable', 'cable'), ('other', 'other')], max_length=8)),
                ('name', models.CharField(max_length=80)),
                ('count', models.PositiveIntegerField()),
                ('storage', models.CharField(blank=True, max_length=120, verbose_name='storage place')),
                ('remark', models.CharField(blank=True, max_length=1000)),
            ],
            options={
                'ordering': ['site', 'kind', 'name'],
                'constraints': [models.UniqueConstraint(fields=('site', 'name'), name='studio_stock_name_in_site')],
            },
        ),
        migrations.CreateModel(
            name='Person',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('password', models.CharField(max_length=128, verbose_name='password')),
                ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                ('resource', models.OneToOneField(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='%(class)s', to='studio.resource')),
                ('username', models.SlugField(max_length=40, unique=True, verbose_name='sign-in name')),
                ('name', models.CharField(max_length=120)),
                ('email', models.EmailField(blank=True, max_length=254)),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('site', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='people', to='studio.site')),
                ('is_active', models.BooleanField(default=True)),
                ('freelance', models.BooleanField(default=False, help_text='Sees their own calls only, not who else is in the building.', verbose_name='freelance')),
            ],
            options={
                'ordering': ['name', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='RoleHeld',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='roles_held', to=settings.AUTH_USER_MODEL)),
                ('role', models.CharField(choices=[('manager', 'manager'), ('engineer', 'engineer'), ('assistant', 'assistant'), ('tech', 'bench tech')], max_length=10)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('person', 'role'), name='studio_role_held_once')],
            },
        ),
        migrations.CreateModel(
            name='WorkingHours',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='working_hours', to=settings.AUTH_USER_MODEL)),
                ('weekday', models.PositiveSmallIntegerField()),
                ('starts', models.TimeField(verbose_name='from')),
                ('ends', models.TimeField(verbose_name='until')),
            ],
            options={
                'ordering': ['weekday', 'starts', 'pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('weekday__gte', 1), ('weekday__lte', 7)), name='studio_working_hours_on_a_weekday')],
            },
        ),
        migrations.CreateModel(
            name='Leave',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='leaves', to=settings.AUTH_USER_MODEL)),
                ('starts', models.DateTimeField()),
                ('ends', models.DateTimeField()),
                ('why', models.CharField(blank=True, max_length=120)),
            ],
            options={
                'ordering': ['starts', 'pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('ends__gt', models.F('starts'))), name='studio_leave_ends_after_start')],
            },
        ),
        migrations.CreateModel(
            name='Fault',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('unit', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='faults', to='studio.gearunit')),
                ('channel', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='faults', to='studio.channel')),
                ('effect', models.CharField(choices=[('dead', 'does not work at all'), ('no_phantom', 'no phantom'), ('noisy', 'noisy'), ('pad_stuck', 'pad or switch stuck'), ('crackles', 'crackles now and then'), ('pattern', 'one pattern is dead'), ('missing', 'not where it should be'), ('other', 'something else')], max_length=10)),
                ('severity', models.CharField(choices=[('out', 'out of use'), ('limited', 'usable with a limit'), ('suspected', 'suspected, watch it')], max_length=10)),
                ('step', models.CharField(choices=[('reported', 'reported'), ('looked_at', 'looked at'), ('on_bench', 'on the bench'), ('away', 'away for repair'), ('parts', 'waiting for parts'), ('unheard', 'back, not yet heard'), ('mended', 'mended')], default='reported', max_length=10)),
                ('words', models.CharField(blank=True, max_length=300, verbose_name='what it did')),
                ('above_gain_db', models.FloatField(blank=True, null=True, verbose_name='only above this gain, dB')),
                ('pattern', models.CharField(blank=True, max_length=20, verbose_name='which pattern')),
                ('often', models.CharField(blank=True, choices=[('', 'not known'), ('always', 'always'), ('sometimes', 'sometimes')], default='', max_length=9, verbose_name='how often')),
                ('joined_to', models.CharField(blank=True, max_length=200, verbose_name='what it was joined to')),
                ('cured_by', models.CharField(blank=True, max_length=200, verbose_name='what cured it for now')),
                ('usable_today', models.BooleanField(blank=True, null=True, verbose_name='usable for the rest of that day')),
                ('workaround', models.CharField(blank=True, max_length=200)),
                ('workaround_until', models.DateTimeField(blank=True, null=True)),
                ('suspect_with', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='other_suspects', to='studio.fault')),
                ('reproduced', models.BooleanField(blank=True, null=True, verbose_name='seen again on the bench')),
                ('sent_to', models.CharField(blank=True, max_length=120)),
                ('since', models.DateTimeField()),
                ('expected_back', models.DateTimeField(blank=True, null=True)),
                ('reported_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='faults_reported', to=settings.AUTH_USER_MODEL)),
                ('reported_at', models.DateTimeField()),
                ('closed_at', models.DateTimeField(blank=True, null=True)),
                ('outcome', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ['-since', '-pk'],
                'indexes': [models.Index(condition=models.Q(('closed_at__isnull', True)), fields=['unit'], name='studio_fault_open_of_unit')],
            },
        ),
        migrations.CreateModel(
            name='FaultEvent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('fault', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='events', to='studio.fault')),
                ('kind', models.CharField(choices=[('reported', 'reported'), ('seen_again', 'seen again'), ('judged', 'judged'), ('step', 'went a step on'), ('return_date', 'return date'), ('note', 'note'), ('cleared', 'cleared of suspicion'), ('closed', 'closed')], max_length=12)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='fault_events', to=settings.AUTH_USER_MODEL)),
                ('severity', models.CharField(choices=[('out', 'out of use'), ('limited', 'usable with a limit'), ('suspected', 'suspected, watch it')], max_length=10)),
                ('step', models.CharField(choices=[('reported', 'reported'), ('looked_at', 'looked at'), ('on_bench', 'on the bench'), ('away', 'away for repair'), ('parts', 'waiting for parts'), ('unheard', 'back, not yet heard'), ('mended', 'mended')], max_length=10)),
                ('expected_back', models.DateTimeField(blank=True, null=True)),
                ('closed', models.BooleanField(default=False)),
                ('note', models.CharField(blank=True, max_length=1000)),
                ('minutes', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('cost', models.DecimalField(blank=True, decimal_places=2, max_digits=9, null=True)),
                ('currency', models.CharField(blank=True, max_length=3)),
                ('parts', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ['at', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='Photo',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('unit', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='photos', to='studio.gearunit')),
                ('fault', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='photos', to='studio.fault')),
                ('image', models.ImageField(height_field='height', upload_to='photos/%Y/%m', width_field='width')),
                ('width', models.PositiveIntegerField(editable=False)),
                ('height', models.PositiveIntegerField(editable=False)),
                ('taken_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='photos', to=settings.AUTH_USER_MODEL)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='Heartbeat',
            fields=[
                ('part', models.CharField(choices=[('queue', 'queue'), ('beat', 'beat')], max_length=10, primary_key=True, serialize=False)),
                ('beaten_at', models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name='HeadingMatch',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('heading', models.CharField(max_length=120)),
                ('sort', models.CharField(max_length=10)),
                ('field', models.CharField(max_length=20)),
                ('confirmed_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('confirmed_at', models.DateTimeField(auto_now=True)),
            ],
            options={
                'ordering': ['heading', 'sort'],
                'constraints': [models.UniqueConstraint(fields=('heading', 'sort'), name='studio_heading_match_once')],
            },
        ),
        migrations.CreateModel(
            name='GearList',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=200)),
                ('content', models.BinaryField()),
                ('brought_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='gear_lists', to=settings.AUTH_USER_MODEL)),
                ('brought_at', models.DateTimeField(auto_now_add=True)),
                ('columns', models.JSONField(default=dict)),
                ('answers', models.JSONField(default=dict)),
                ('applied_at', models.DateTimeField(blank=True, null=True)),
                ('outcome', models.CharField(blank=True, max_length=500)),
            ],
            options={
                'ordering': ['-brought_at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='ServicePlan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('what', models.CharField(max_length=120)),
                ('gear_model', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='service_plans', to='studio.gearmodel')),
                ('unit', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='service_plans', to='studio.gearunit')),
                ('every_days', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('every_hours', models.PositiveIntegerField(blank=True, null=True, verbose_name='every so many hours of use')),
                ('minutes', models.PositiveSmallIntegerField(default=60, verbose_name='how long it takes, minutes')),
                ('electrical', models.BooleanField(default=False, verbose_name='electrical safety inspection or test')),
                ('starts_on', models.DateField(verbose_name='counted from')),
                ('ended', models.BooleanField(default=False)),
            ],
            options={
                'ordering': ['what', 'pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('gear_model__isnull', True), ('unit__isnull', True), _connector='XOR'), name='studio_service_of_one_thing'), models.CheckConstraint(condition=models.Q(('every_days__gte', 1), ('every_hours__gte', 1), _connector='OR'), name='studio_service_is_due_some_time')],
            },
        ),
        migrations.CreateModel(
            name='ServiceDone',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='done', to='studio.serviceplan')),
                ('unit', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='services', to='studio.gearunit')),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='services', to=settings.AUTH_USER_MODEL)),
                ('hours_used', models.FloatField(default=0)),
                ('note', models.CharField(blank=True, max_length=300)),
            ],
            options={
                'ordering': ['-at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='DynamicsSpec',
            fields=[
                ('gear_model', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='dynamics', serialize=False, to='studio.gearmodel')),
                ('ratios', models.CharField(blank=True, help_text='To one, with a space between: 2 4 8 20.', max_length=80, validators=[django.core.validators.RegexValidator('\\A\\d+(\\.\\d+)?( \\d+(\\.\\d+)?)*\\Z', 'Write figures with a space between, like 300 1200.')])),
                ('threshold', models.CharField(blank=True, choices=[('variable', 'variable threshold'), ('fixed', 'fixed threshold')], max_length=8)),
                ('stereo_link', models.BooleanField(default=False, verbose_name='its channels can be linked')),
            ],
        ),
        migrations.CreateModel(
            name='EqualiserSpec',
            fields=[
                ('gear_model', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='equaliser', serialize=False, to='studio.gearmodel')),
                ('bands', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('stereo_link', models.BooleanField(default=False, verbose_name='its channels are set together')),
            ],
        ),
        migrations.CreateModel(
            name='ListeningSpec',
            fields=[
                ('gear_model', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='listening', serialize=False, to='studio.gearmodel')),
                ('impedance_ohm', models.FloatField(blank=True, null=True, verbose_name="impedance, of an amplifier its output's")),
                ('least_load_ohm', models.FloatField(blank=True, null=True, verbose_name='least load that an amplifier drives')),
                ('sensitivity_db_mw', models.FloatField(blank=True, null=True, verbose_name='dB SPL at 1 mW')),
                ('closed', models.BooleanField(default=True, verbose_name='closed: little sound gets out')),
            ],
        ),
        migrations.CreateModel(
            name='ConverterSpec',
            fields=[
                ('gear_model', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='converter', serialize=False, to='studio.gearmodel')),
                ('full_scale_dbu', models.FloatField(blank=True, null=True, verbose_name='full scale at this analogue level, dBu')),
                ('rates_khz', models.CharField(blank=True, help_text='Like 44.1 48 96.', max_length=80, validators=[django.core.validators.RegexValidator('\\A\\d+(\\.\\d+)?( \\d+(\\.\\d+)?)*\\Z', 'Write figures with a space between, like 300 1200.')])),
            ],
        ),
        migrations.CreateModel(
            name='MainsSpec',
            fields=[
                ('gear_model', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='mains', serialize=False, to='studio.gearmodel')),
                ('mains_v', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('power_w', models.FloatField(blank=True, null=True)),
                ('weight_kg', models.FloatField(blank=True, null=True)),
                ('valves', models.BooleanField(default=False)),
            ],
        ),
        migrations.CreateModel(
            name='StandSpec',
            fields=[
                ('stock', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='stand', serialize=False, to='studio.stock')),
                ('load_kg', models.FloatField(blank=True, null=True, verbose_name='most load')),
                ('reach_m', models.FloatField(blank=True, null=True, verbose_name='reach of its boom')),
                ('height_m', models.FloatField(blank=True, null=True, verbose_name='most height')),
            ],
        ),
        migrations.CreateModel(
            name='CableSpec',
            fields=[
                ('stock', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='cable', serialize=False, to='studio.stock')),
                ('ends', models.CharField(blank=True, max_length=60, verbose_name='connectors')),
                ('length_m', models.FloatField(blank=True, null=True)),
                ('capacitance_pf_m', models.FloatField(blank=True, null=True, verbose_name='capacitance, pF a metre')),
            ],
        ),
        migrations.CreateModel(
            name='Stay',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('unit', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='stays', to='studio.gearunit')),
                ('kind', models.CharField(choices=[('room', 'moved'), ('loan', 'lent'), ('hire_out', 'hired out')], max_length=8)),
                ('room', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='stays', to='studio.room')),
                ('holder', models.CharField(blank=True, max_length=120, verbose_name='with whom')),
                ('began_at', models.DateTimeField()),
                ('due_at', models.DateTimeField(blank=True, null=True)),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('moved_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='moved', to=settings.AUTH_USER_MODEL)),
                ('returned_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='brought_back', to=settings.AUTH_USER_MODEL)),
                ('remark', models.CharField(blank=True, max_length=300)),
            ],
            options={
                'ordering': ['-began_at', '-pk'],
                'constraints': [models.UniqueConstraint(condition=models.Q(('ended_at__isnull', True)), fields=('unit',), name='studio_stay_one_at_a_time'), models.CheckConstraint(condition=models.Q(('ended_at__isnull', True), ('ended_at__gte', models.F('began_at')), _connector='OR'), name='studio_stay_ends_after_it_began'), models.CheckConstraint(condition=models.Q(models.Q(('kind', 'room'), ('room__isnull', False)), models.Q(models.Q(('kind', 'room'), _negated=True), models.Q(('holder', ''), _negated=True)), _connector='OR'), name='studio_stay_says_where')],
            },
        ),
        migrations.CreateModel(
            name='Journey',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('first', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='journeys_first', to='studio.site')),
                ('second', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='journeys_second', to='studio.site')),
                ('minutes', models.PositiveSmallIntegerField()),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('first', 'second'), name='studio_journey_once'), models.CheckConstraint(condition=models.Q(('first__lt', models.F('second'))), name='studio_journey_in_order')],
            },
        ),
        migrations.CreateModel(
            name='Part',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('unit', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='parts', to='studio.gearunit')),
                ('name', models.CharField(max_length=80)),
                ('needed', models.BooleanField(default=True, verbose_name="it can't be used without")),
                ('missing_since', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['unit', 'name'],
                'constraints': [models.UniqueConstraint(fields=('unit', 'name'), name='studio_part_once')],
            },
        ),
        migrations.CreateModel(
            name='StockTake',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('room', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='stock_takes', to='studio.room')),
                ('begun_at', models.DateTimeField()),
                ('begun_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stock_takes', to=settings.AUTH_USER_MODEL)),
                ('closed_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['-begun_at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='Scanned',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('stock_take', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='scanned', to='studio.stocktake')),
                ('text', models.CharField(max_length=200)),
                ('unit', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='scans', to='studio.gearunit')),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='scans', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['at', 'pk'],
                'constraints': [models.UniqueConstraint(fields=('stock_take', 'unit'), name='studio_scanned_once_a_count')],
            },
        ),
        migrations.CreateModel(
            name='RoomNote',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('room', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='notes', to='studio.room')),
                ('kind', models.CharField(choices=[('quirk', 'known quirk'), ('stays', 'stays as it is')], max_length=6)),
                ('words', models.CharField(max_length=300)),
                ('since', models.DateTimeField()),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='room_notes', to=settings.AUTH_USER_MODEL)),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['kind', '-since', '-pk'],
            },
        ),
    ]
