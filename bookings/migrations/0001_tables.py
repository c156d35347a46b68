"""Jobs, sessions, crew, holds, series, calls, feeds, busy hours, rentals."""

import bookings.models.feeds
import django.db.models.deletion
import django.db.models.functions.text
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [('bookings', '0001_initial'), ('bookings', '0002_initial'), ('bookings', '0003_holds'), ('bookings', '0004_hold_has_its_times'), ('bookings', '0005_busy_sources'), ('bookings', '0006_kinds_series_and_calls'), ('bookings', '0007_usual_kinds'), ('bookings', '0008_call_letters_in_words'), ('bookings', '0009_feeds_of_all_kinds'), ('bookings', '0010_feed_stamps'), ('bookings', '0011_rental_unit')]

    initial = True

    dependencies = [
        ('studio', '0002_guards'),
    ]

    operations = [
        migrations.CreateModel(
            name='BusySource',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='busy_sources', to=settings.AUTH_USER_MODEL)),
                ('address', models.CharField(blank=True, max_length=1000)),
                ('filename', models.CharField(blank=True, max_length=200)),
                ('packed_copy', models.BinaryField(default=b'')),
                ('etag', models.CharField(blank=True, max_length=200)),
                ('last_modified', models.CharField(blank=True, max_length=100)),
                ('checked_at', models.DateTimeField(blank=True, null=True)),
                ('good_at', models.DateTimeField(blank=True, null=True)),
                ('problem', models.CharField(blank=True, max_length=400)),
                ('reports', models.JSONField(default=list)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('person', 'address', 'filename'), name='bookings_busy_source_once'), models.CheckConstraint(condition=models.Q(models.Q(('address', ''), _negated=True), models.Q(('filename', ''), _negated=True), _connector='XOR'), name='bookings_busy_source_address_or_file')],
            },
        ),
        migrations.CreateModel(
            name='Client',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120, unique=True)),
                ('contact', models.CharField(blank=True, max_length=120)),
                ('email', models.EmailField(blank=True, max_length=254)),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('is_house', models.BooleanField(default=False, editable=False)),
            ],
            options={
                'ordering': ['name'],
            },
        ),
        migrations.CreateModel(
            name='Job',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('client', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='jobs', to='bookings.client')),
                ('title', models.CharField(max_length=120)),
                ('hourly_rate', models.DecimalField(blank=True, decimal_places=2, max_digits=8, null=True)),
                ('currency', models.CharField(default='EUR', help_text='ISO 4217 code', max_length=3)),
                ('note', models.TextField(blank=True)),
                ('closed_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('hourly_rate__isnull', True), ('hourly_rate__gte', 0), _connector='OR'), name='bookings_job_rate_not_negative')],
            },
        ),
        migrations.CreateModel(
            name='SessionKind',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='session_kinds', to='studio.site')),
                ('name', models.CharField(max_length=40)),
                ('nature', models.CharField(choices=[('work', 'a session with a client'), ('upkeep', 'upkeep or repair by the house'), ('closure', 'the room is closed')], default='work', max_length=8)),
                ('loud', models.BooleanField(default=False, verbose_name='loud work')),
                ('wants_quiet', models.BooleanField(default=False, verbose_name='wants quiet around it')),
                ('offered', models.BooleanField(default=True, verbose_name='offered for new sessions')),
                ('order', models.PositiveSmallIntegerField(default=0)),
            ],
            options={
                'ordering': ['site', 'order', 'name', 'pk'],
                'constraints': [models.UniqueConstraint(models.F('site'), django.db.models.functions.text.Lower('name'), name='bookings_session_kind_once')],
            },
        ),
        migrations.CreateModel(
            name='Series',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('rule', models.CharField(max_length=400)),
                ('zone', models.CharField(max_length=60)),
                ('starts', models.DateTimeField()),
                ('left_out', models.JSONField(blank=True, default=list)),
                ('made_at', models.DateTimeField()),
                ('follows', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='followed_by', to='bookings.series')),
            ],
            options={
                'verbose_name_plural': 'series',
            },
        ),
        migrations.CreateModel(
            name='Session',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sessions', to='bookings.job')),
                ('room', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sessions', to='studio.room')),
                ('kind', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sessions', to='bookings.sessionkind')),
                ('title', models.CharField(max_length=120)),
                ('status', models.CharField(choices=[('held', 'held'), ('confirmed', 'confirmed'), ('cancelled', 'cancelled')], default='confirmed', max_length=10)),
                ('setup_at', models.DateTimeField()),
                ('load_in', models.DateTimeField()),
                ('downbeat', models.DateTimeField()),
                ('end', models.DateTimeField()),
                ('spare_until', models.DateTimeField(blank=True, null=True)),
                ('clear_at', models.DateTimeField()),
                ('day_from', models.TimeField(blank=True, null=True)),
                ('day_to', models.TimeField(blank=True, null=True)),
                ('series', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='sessions', to='bookings.series')),
                ('occurrence', models.DateTimeField(blank=True, null=True)),
                ('instrument_list', models.TextField(blank=True)),
                ('note', models.TextField(blank=True)),
                ('held_at', models.DateTimeField(blank=True, null=True)),
                ('lapses_at', models.DateTimeField(blank=True, null=True)),
                ('challenged_at', models.DateTimeField(blank=True, null=True)),
                ('answer_by', models.DateTimeField(blank=True, null=True)),
                ('confirmed_at', models.DateTimeField(blank=True, null=True)),
                ('terms', models.JSONField(blank=True, null=True)),
                ('deposit_in_at', models.DateTimeField(blank=True, null=True)),
                ('worked_from', models.DateTimeField(blank=True, null=True)),
                ('worked_to', models.DateTimeField(blank=True, null=True)),
                ('handover', models.TextField(blank=True)),
                ('cancelled_at', models.DateTimeField(blank=True, null=True)),
                ('cancelled_because', models.CharField(blank=True, max_length=200)),
                ('cancelled_by', models.CharField(blank=True, choices=[('client', 'the client'), ('house', 'the house'), ('neither', 'neither of them')], max_length=8)),
                ('uid', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('form_key', models.UUIDField(editable=False, null=True, unique=True)),
                ('version', models.PositiveIntegerField(default=1)),
                ('sequence', models.PositiveIntegerField(default=0)),
                ('made_at', models.DateTimeField()),
                ('changed_at', models.DateTimeField()),
                ('beside', models.ManyToManyField(blank=True, related_name='sessions_beside', to='studio.room')),
                ('wanted_units', models.ManyToManyField(blank=True, related_name='wanted_by', to='studio.gearunit')),
            ],
            options={
                'ordering': ['downbeat', 'pk'],
                'indexes': [models.Index(fields=['room', 'downbeat'], name='bookings_session_in_room'), models.Index(fields=['clear_at', 'setup_at'], name='bookings_session_when'), models.Index(fields=['status', 'lapses_at'], name='bookings_session_lapses')],
                'constraints': [models.CheckConstraint(condition=models.Q(('setup_at__lte', models.F('load_in')), ('load_in__lte', models.F('downbeat')), ('downbeat__lt', models.F('end')), ('end__lte', models.F('clear_at')), models.Q(('spare_until__isnull', True), models.Q(('spare_until__gt', models.F('end')), ('spare_until__lte', models.F('clear_at'))), _connector='OR')), name='bookings_session_times_in_order'), models.CheckConstraint(condition=models.Q(models.Q(('day_from__isnull', True), ('day_to__isnull', True)), models.Q(('day_from__isnull', False), ('day_to__isnull', False)), _connector='OR'), name='bookings_session_lockout_hours_whole'), models.UniqueConstraint(fields=('series', 'occurrence'), name='bookings_session_occurrence_once'), models.CheckConstraint(condition=models.Q(('worked_to__isnull', True), ('worked_to__gt', models.F('worked_from')), _connector='OR'), name='bookings_session_worked_in_order'), models.CheckConstraint(condition=models.Q(models.Q(('status', 'held'), _negated=True), models.Q(('held_at__isnull', False), ('lapses_at__isnull', False)), _connector='OR'), name='bookings_session_hold_has_its_times')],
            },
        ),
        migrations.CreateModel(
            name='Crew',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('session', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='crew', to='bookings.session')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='calls', to=settings.AUTH_USER_MODEL)),
                ('role', models.CharField(choices=[('manager', 'manager'), ('engineer', 'engineer'), ('assistant', 'assistant'), ('tech', 'bench tech')], max_length=10)),
                ('call_at', models.DateTimeField()),
                ('until', models.DateTimeField()),
                ('assigned', models.BooleanField(default=True)),
                ('answer', models.CharField(choices=[('none', 'no answer'), ('accepted', 'accepted'), ('tentative', 'perhaps'), ('declined', 'declined')], default='none', max_length=10)),
                ('answered_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['call_at', 'pk'],
                'constraints': [models.UniqueConstraint(fields=('session', 'person'), name='bookings_person_once_on_session'), models.CheckConstraint(condition=models.Q(('until__gt', models.F('call_at'))), name='bookings_call_in_order')],
            },
        ),
        migrations.CreateModel(
            name='TakenOff',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('session', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='taken_off', to='bookings.session')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='taken_off', to=settings.AUTH_USER_MODEL)),
                ('role', models.CharField(choices=[('manager', 'manager'), ('engineer', 'engineer'), ('assistant', 'assistant'), ('tech', 'bench tech')], max_length=10)),
                ('call_at', models.DateTimeField()),
                ('until', models.DateTimeField()),
                ('at', models.DateTimeField()),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('session', 'person'), name='bookings_taken_off_once')],
            },
        ),
        migrations.CreateModel(
            name='SessionEntry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('session', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='history', to='bookings.session')),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('what', models.CharField(max_length=20)),
                ('words', models.TextField()),
            ],
            options={
                'ordering': ['-at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='CallLetter',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.CharField(max_length=120, unique=True)),
                ('due_at', models.DateTimeField()),
                ('useless_after', models.DateTimeField()),
                ('state', models.CharField(choices=[('waiting', 'Waiting'), ('sending', 'Sending'), ('sent', 'Sent'), ('failed', 'Failed'), ('missed', 'Missed'), ('dropped', 'Dropped')], default='waiting', max_length=10)),
                ('leased_until', models.DateTimeField(blank=True, null=True)),
                ('attempts', models.PositiveSmallIntegerField(default=0)),
                ('sent_at', models.DateTimeField(blank=True, null=True)),
                ('message_id', models.CharField(blank=True, max_length=160)),
                ('error', models.CharField(blank=True, max_length=300)),
                ('session', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='call_letters', to='bookings.session')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='call_letters', to=settings.AUTH_USER_MODEL)),
                ('kind', models.CharField(choices=[('request', 'invited or told of a change'), ('cancel', 'told that the call is off'), ('chase', 'asked once more for an answer'), ('declined', 'told that somebody has declined'), ('pushed', 'told that the session before runs on')], max_length=10)),
                ('sequence', models.PositiveIntegerField()),
                ('to', models.EmailField(max_length=254)),
                ('calendar', models.TextField(blank=True)),
                ('words', models.TextField(blank=True)),
            ],
            options={
                'ordering': ['due_at', 'pk'],
                'indexes': [models.Index(fields=['state', 'due_at'], name='bookings_callletter_due')],
            },
        ),
        migrations.CreateModel(
            name='Feed',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('token', models.CharField(default=bookings.models.feeds.new_token, editable=False, max_length=40, unique=True)),
                ('owner', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='feeds', to=settings.AUTH_USER_MODEL)),
                ('room', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='feeds', to='studio.room')),
                ('job', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='feeds', to='bookings.job')),
                ('site', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='feeds', to='studio.site')),
                ('unit', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='feeds', to='studio.gearunit')),
                ('detail', models.CharField(choices=[('full', 'everything'), ('no_client', 'without the client'), ('busy', 'busy times only')], default='full', max_length=10)),
                ('made_at', models.DateTimeField()),
                ('built_for', models.CharField(blank=True, editable=False, max_length=200)),
                ('stamp', models.CharField(blank=True, editable=False, max_length=64)),
                ('etag', models.CharField(blank=True, editable=False, max_length=40)),
                ('last_modified', models.DateTimeField(editable=False, null=True)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('owner', 'room', 'detail'), name='bookings_feed_of_room_once'), models.UniqueConstraint(fields=('owner', 'job', 'detail'), name='bookings_feed_of_job_once'), models.UniqueConstraint(fields=('owner', 'site', 'detail'), name='bookings_feed_of_site_once'), models.UniqueConstraint(fields=('owner', 'unit', 'detail'), name='bookings_feed_of_unit_once'), models.UniqueConstraint(condition=models.Q(('job__isnull', True), ('room__isnull', True), ('site__isnull', True), ('unit__isnull', True)), fields=('owner', 'detail'), name='bookings_feed_of_person_once')],
            },
        ),
        migrations.CreateModel(
            name='HoldLetter',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.CharField(max_length=120, unique=True)),
                ('due_at', models.DateTimeField()),
                ('useless_after', models.DateTimeField()),
                ('state', models.CharField(choices=[('waiting', 'Waiting'), ('sending', 'Sending'), ('sent', 'Sent'), ('failed', 'Failed'), ('missed', 'Missed'), ('dropped', 'Dropped')], default='waiting', max_length=10)),
                ('leased_until', models.DateTimeField(blank=True, null=True)),
                ('attempts', models.PositiveSmallIntegerField(default=0)),
                ('sent_at', models.DateTimeField(blank=True, null=True)),
                ('message_id', models.CharField(blank=True, max_length=160)),
                ('error', models.CharField(blank=True, max_length=300)),
                ('session', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='hold_letters', to='bookings.session')),
                ('kind', models.CharField(choices=[('asked', 'asked to answer a challenge'), ('reminded', 'reminded of a challenge'), ('first', 'stands first'), ('decide', 'yes or no for tomorrow')], max_length=10)),
                ('reader', models.CharField(choices=[('house', 'a manager'), ('client', 'the client')], max_length=10)),
                ('to', models.EmailField(max_length=254)),
                ('answer_by', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['due_at', 'pk'],
                'indexes': [models.Index(fields=['state', 'due_at'], name='bookings_holdletter_due')],
            },
        ),
        migrations.CreateModel(
            name='Rental',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('session', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='rentals', to='bookings.session')),
                ('what', models.CharField(max_length=120)),
                ('unit', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='rental', to='studio.gearunit')),
                ('supplier', models.CharField(blank=True, max_length=120)),
                ('cost', models.DecimalField(blank=True, decimal_places=2, max_digits=9, null=True)),
                ('currency', models.CharField(default='EUR', help_text='ISO 4217 code', max_length=3)),
                ('arrives_at', models.DateTimeField()),
                ('back_at', models.DateTimeField()),
                ('ordered_at', models.DateTimeField(blank=True, null=True)),
                ('arrived_at', models.DateTimeField(blank=True, null=True)),
                ('returned_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['arrives_at', 'pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('back_at__gt', models.F('arrives_at'))), name='bookings_rental_in_order'), models.CheckConstraint(condition=models.Q(('cost__isnull', True), ('cost__gte', 0), _connector='OR'), name='bookings_rental_cost_not_negative')],
            },
        ),
    ]
