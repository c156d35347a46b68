"""An end that an index can look up, open-ended claims included: years of history cost a question nothing.

SQLite's table is made anew for it, so its two guards against overlaps are made again, with the new column.
"""

from datetime import UTC, datetime

from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models.functions import Coalesce

OVERLAP = """
SELECT RAISE(ABORT, 'studio_claim_no_overlap') WHERE EXISTS (
    SELECT 1 FROM studio_claim
    WHERE resource_id = NEW.resource_id AND until > NEW.starts AND starts < NEW.until
      AND firm AND exclusive AND id <> NEW.id
)
"""

GUARDS = {"insert": "INSERT", "update": "UPDATE OF resource_id, starts, ends, firm, exclusive"}


def unlock(apps: object, schema_editor: BaseDatabaseSchemaEditor) -> None:
    if schema_editor.connection.vendor == "sqlite":
        for event in GUARDS:
            schema_editor.execute(f"DROP TRIGGER IF EXISTS studio_claim_no_overlap_{event}")


def lock(apps: object, schema_editor: BaseDatabaseSchemaEditor) -> None:
    if schema_editor.connection.vendor == "sqlite":
        for event, what in GUARDS.items():
            schema_editor.execute(
                f"CREATE TRIGGER studio_claim_no_overlap_{event} AFTER {what} ON studio_claim "
                f"WHEN NEW.firm AND NEW.exclusive BEGIN {OVERLAP}; END"
            )


class Migration(migrations.Migration):
    dependencies = [
        ("contenttypes", "0002_remove_content_type_name"),
        ("studio", "0005_people_rooms_and_rest"),
    ]

    operations = [
        migrations.RunPython(unlock, migrations.RunPython.noop),
        migrations.RemoveIndex(model_name="claim", name="studio_claim_when"),
        migrations.AddField(
            model_name="claim",
            name="until",
            field=models.GeneratedField(
                expression=Coalesce("ends", models.Value(datetime(9999, 1, 1, tzinfo=UTC))),
                output_field=models.DateTimeField(),
                db_persist=True,
            ),
        ),
        migrations.AddIndex(
            model_name="claim",
            index=models.Index(fields=["resource", "until", "starts"], name="studio_claim_when"),
        ),
        migrations.RunPython(lock, migrations.RunPython.noop),
    ]
