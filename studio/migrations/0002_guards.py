"""The second lock on the door: the database itself refuses two firm claims that overlap on one exclusive resource.

PostgreSQL gets an exclusion constraint (an int8range of one number needs no extension), SQLite two triggers.
A later migration that makes Django rebuild the SQLite table drops the triggers and must run these again.
"""

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

POSTGRESQL = """
ALTER TABLE studio_claim ADD CONSTRAINT studio_claim_no_overlap EXCLUDE USING gist (
    int8range(resource_id, resource_id, '[]') WITH &&,
    tstzrange(starts, ends, '[)') WITH &&
) WHERE (firm AND exclusive)
"""

OVERLAP = """
SELECT RAISE(ABORT, 'studio_claim_no_overlap') WHERE EXISTS (
    SELECT 1 FROM studio_claim
    WHERE resource_id = NEW.resource_id AND until > NEW.starts AND starts < NEW.until
      AND firm AND exclusive AND id <> NEW.id
)
"""

SQLITE = [
    f"CREATE TRIGGER studio_claim_no_overlap_{event} AFTER {what} ON studio_claim "
    f"WHEN NEW.firm AND NEW.exclusive BEGIN {OVERLAP}; END"
    for event, what in [
        ("insert", "INSERT"),
        ("update", "UPDATE OF resource_id, starts, ends, firm, exclusive"),
    ]
]


def lock(apps: object, schema_editor: BaseDatabaseSchemaEditor) -> None:
    vendor = schema_editor.connection.vendor
    for statement in [POSTGRESQL] if vendor == "postgresql" else SQLITE:
        schema_editor.execute(statement)


def unlock(apps: object, schema_editor: BaseDatabaseSchemaEditor) -> None:
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("ALTER TABLE studio_claim DROP CONSTRAINT studio_claim_no_overlap")
    else:
        for event in ("insert", "update"):
            schema_editor.execute(f"DROP TRIGGER studio_claim_no_overlap_{event}")


class Migration(migrations.Migration):
    dependencies = [("studio", "0001_tables")]
    operations = [migrations.RunPython(lock, unlock)]
