from django.db import migrations, models


class Migration(migrations.Migration):
    """On its own: PostgreSQL alters no table in the transaction that has just filled it."""

    dependencies = [("bookings", "0003_holds")]

    operations = [
        migrations.AddConstraint(
            model_name='session',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('status', 'held'), _negated=True), models.Q(('held_at__isnull', False), ('lapses_at__isnull', False)), _connector='OR'), name='bookings_session_hold_has_its_times'),
        ),
    ]
