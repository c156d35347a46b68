"""Plans, tasks, reminders, papers, words of the house."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [('tasks', '0001_initial'), ('tasks', '0002_reminder_room'), ('tasks', '0003_plan_questions'), ('tasks', '0004_papers_seen'), ('tasks', '0005_house_words')]

    initial = True

    dependencies = [
        ('bookings', '0001_tables'),
    ]

    operations = [
        migrations.CreateModel(
            name='PapersSeen',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('session', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='papers_seen', to='bookings.session')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='papers_seen', to=settings.AUTH_USER_MODEL)),
                ('at', models.DateTimeField()),
                ('rows', models.JSONField(default=list)),
            ],
            options={
                'ordering': ['at', 'pk'],
                'constraints': [models.UniqueConstraint(fields=('session', 'person'), name='tasks_papers_seen_once')],
            },
        ),
        migrations.CreateModel(
            name='Plan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('session', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='plan', to='bookings.session')),
                ('made_at', models.DateTimeField()),
                ('list_text', models.TextField(blank=True)),
                ('status', models.CharField(max_length=20)),
                ('objective', models.FloatField(default=0)),
                ('bound', models.FloatField(default=0)),
                ('seconds', models.FloatField(default=0)),
                ('questions', models.PositiveSmallIntegerField(default=0)),
                ('stale', models.BooleanField(default=False)),
            ],
        ),
        migrations.CreateModel(
            name='PlannedInput',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='inputs', to='tasks.plan')),
                ('number', models.PositiveSmallIntegerField()),
                ('label', models.CharField(max_length=120)),
                ('source', models.CharField(max_length=60)),
                ('pickup', models.CharField(choices=[('mic', 'microphone'), ('di', 'DI'), ('line', 'line')], max_length=4)),
                ('unit', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='planned', to='studio.gearunit')),
                ('unit_input', models.PositiveSmallIntegerField(null=True)),
                ('preamp_channel', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='planned', to='studio.channel')),
                ('phantom', models.BooleanField(default=False)),
                ('pad', models.BooleanField(default=False)),
                ('stand', models.CharField(blank=True, max_length=30)),
                ('line', models.PositiveSmallIntegerField()),
                ('recorder_input', models.PositiveSmallIntegerField()),
                ('why', models.JSONField(default=list)),
            ],
            options={
                'ordering': ['number', 'pk'],
                'constraints': [models.UniqueConstraint(fields=('plan', 'number'), name='tasks_input_number_once'), models.UniqueConstraint(fields=('plan', 'line'), name='tasks_line_once'), models.UniqueConstraint(fields=('plan', 'recorder_input'), name='tasks_recorder_input_once'), models.UniqueConstraint(condition=models.Q(('preamp_channel__isnull', False)), fields=('plan', 'preamp_channel'), name='tasks_preamp_channel_once')],
            },
        ),
        migrations.CreateModel(
            name='UnfilledNeed',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='unfilled', to='tasks.plan')),
                ('number', models.PositiveSmallIntegerField()),
                ('label', models.CharField(max_length=120)),
                ('source', models.CharField(max_length=60)),
                ('reason', models.TextField()),
                ('help', models.JSONField(default=list)),
            ],
            options={
                'ordering': ['number', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='Reminder',
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
                ('session', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='reminders', to='bookings.session')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='reminders', to=settings.AUTH_USER_MODEL)),
                ('room', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='studio.room')),
                ('kind', models.CharField(choices=[('morning', 'setup checklist'), ('phantom', 'phantom check'), ('breakdown', 'breakdown duties')], max_length=10)),
            ],
            options={
                'ordering': ['due_at', 'pk'],
                'indexes': [models.Index(fields=['state', 'due_at'], name='tasks_reminder_due')],
            },
        ),
        migrations.CreateModel(
            name='Task',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('session', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='tasks', to='bookings.session')),
                ('key', models.CharField(max_length=80)),
                ('stage', models.CharField(choices=[('setup', 'setup'), ('phantom', 'phantom check'), ('line_check', 'line check'), ('breakdown', 'breakdown')], max_length=10)),
                ('order', models.PositiveSmallIntegerField()),
                ('title', models.CharField(max_length=160)),
                ('details', models.JSONField(default=list, help_text='pairs of word and value: Fetch, Stand, Line, Preamp')),
                ('minutes', models.PositiveSmallIntegerField()),
                ('caution', models.TextField(blank=True)),
                ('input', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='tasks', to='tasks.plannedinput')),
                ('assignee', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='tasks', to=settings.AUTH_USER_MODEL)),
                ('done_at', models.DateTimeField(blank=True, null=True)),
                ('done_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('problem', models.CharField(blank=True, max_length=300)),
            ],
            options={
                'ordering': ['session', 'order', 'pk'],
                'constraints': [models.UniqueConstraint(fields=('session', 'key'), name='tasks_task_key_once'), models.CheckConstraint(condition=models.Q(('done_at__isnull', False), ('done_by__isnull', True), _connector='OR'), name='tasks_done_by_needs_a_time')],
            },
        ),
        migrations.CreateModel(
            name='HouseWord',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('words', models.CharField(max_length=60)),
                ('key', models.CharField(editable=False, max_length=120, unique=True)),
                ('source', models.CharField(blank=True, max_length=60)),
                ('taught_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('taught_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['words', 'pk'],
            },
        ),
    ]
