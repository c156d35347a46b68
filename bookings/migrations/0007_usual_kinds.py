"""Sites that are there already begin with the trade's usual kinds of session."""

from typing import Any

from django.db import migrations

from bookings.models.kinds import USUAL_KINDS


def offer(apps: Any, schema_editor: Any) -> None:
    kinds = apps.get_model("bookings", "SessionKind").objects
    for site in apps.get_model("studio", "Site").objects.filter(session_kinds__isnull=True):
        for order, (name, nature, loud, quiet) in enumerate(USUAL_KINDS, start=1):
            kinds.create(site=site, name=name, nature=nature, loud=loud, wants_quiet=quiet, order=order)


class Migration(migrations.Migration):
    dependencies = [("bookings", "0006_kinds_series_and_calls")]
    operations = [migrations.RunPython(offer, migrations.RunPython.noop)]
