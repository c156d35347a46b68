"""Text compared without case and accents in the database, as bookings.naming.folded has it."""

from __future__ import annotations

from typing import Any, TypeVar

from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.signals import connection_created
from django.db.models import Func, Model, QuerySet, TextField
from django.db.models.lookups import Contains
from django.dispatch import receiver

from bookings.naming import folded

M = TypeVar("M", bound=Model)


class Folded(Func):
    """A text column folded: “Núñez” and its decomposed twin are both “nunez”."""

    function = "folded"
    output_field = TextField()

    def as_postgresql(self, compiler: Any, connection: BaseDatabaseWrapper, **context: Any) -> Any:
        marks = r"regexp_replace(normalize(lower(%(expressions)s), NFKD), '[\u0300-\u036f]', '', 'g')"
        return self.as_sql(compiler, connection, template=f"replace({marks}, 'ß', 'ss')", **context)


@receiver(connection_created, dispatch_uid="bookings.fold_in_sqlite")
def fold_in_sqlite(sender: type, connection: BaseDatabaseWrapper, **kwargs: object) -> None:
    if connection.vendor == "sqlite":
        connection.connection.create_function("folded", 1, _folded, deterministic=True)


def _folded(text: str | None) -> str | None:
    return text and (text.lower() if text.isascii() else folded(text))


def having(rows: QuerySet[M], field: str, word: str) -> QuerySet[M]:
    """Those whose field has the word in it, however it is written."""
    return rows.filter(Contains(Folded(field), folded(word)))
