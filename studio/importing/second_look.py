"""What one heading makes of another: a second look at an inventory's columns, once each has been read by itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from studio.importing.guessing import share_of_kinds
from studio.importing.heading_words import INVENTORY, normal
from studio.importing.layout import Column
from studio.importing.table import Row
from studio.importing.words import fold

PLAINLY_A_MODEL = {"model", "modell", "modele", "modelo", "modello", "model no", "model name", "model number"}
WORTH_PERHAPS = {"cost", "costs", "costo", "coste", "cout", "couts"}
MOST, FEW, LOOKED_AT = 0.6, 0.3, 200


def looked_at_again(
    columns: list[Column],
    chosen: Mapping[int, str],
    remembered: Mapping[tuple[str, str], str],
    below: Sequence[Row],
) -> list[Column]:
    """What one heading makes of another. What people have said of a column stays."""
    fixed = {c.index for c in columns if c.index in chosen or (normal(c.heading), INVENTORY) in remembered}
    kinds = {c.index: share_of_kinds([row.cell(c.index) for row in below[:LOOKED_AT]]) for c in columns}
    for look in (_model_said_plainly, _kind_by_contents, _cost_for_worth):
        found = look(columns, kinds)
        columns = [old if old.index in fixed else found.get(old.index, old) for old in columns]
    return columns


def _model_said_plainly(columns: Sequence[Column], kinds: Mapping[int, float]) -> dict[int, Column]:
    """Beside “Modèle”, “Matériel” is the kind of thing, or more words about it."""
    first = next((column for column in columns if column.field == "model"), None)
    plain = next((column for column in columns if fold(column.heading) in PLAINLY_A_MODEL), None)
    if first is None or plain is None or first is plain:
        return {}
    has_kind = any(column.field == "kind" for column in columns if column is not plain)
    return {
        first.index: replace(first, field="other" if has_kind else "kind", certain=False),
        plain.index: replace(plain, field="model", certain=True),
    }


def _kind_by_contents(columns: Sequence[Column], kinds: Mapping[int, float]) -> dict[int, Column]:
    """A column that names kinds of things is the kind, whatever its heading; what it stood for, the other one is."""
    kind = next((column for column in columns if column.field == "kind"), None)
    if kind is not None and kinds[kind.index] >= FEW:
        return {}
    unsure = [c for c in columns if c.field == "other" and not c.certain] if kind is None else []
    loose = [c for c in columns if c.field == "model" and fold(c.heading) not in PLAINLY_A_MODEL and kind]
    naming = next((column for column in (*unsure, *loose) if kinds[column.index] >= MOST), None)
    if naming is None:
        return {}
    found = {naming.index: replace(naming, field="kind", certain=False)}
    return found | ({kind.index: replace(kind, field="model", certain=False)} if kind else {})


def _cost_for_worth(columns: Sequence[Column], kinds: Mapping[int, float]) -> dict[int, Column]:
    """In a list that says no other worth, “Cost” may be what was paid; “repair cost” never is."""
    if any(column.field == "value" for column in columns):
        return {}
    cost = next((column for column in columns if fold(column.heading) in WORTH_PERHAPS), None)
    return {cost.index: replace(cost, field="value", certain=False)} if cost else {}
