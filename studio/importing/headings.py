"""Which row holds the headings, and which field each column is: by words of six languages, likeness, and contents."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from rapidfuzz import fuzz, process

from studio.importing.guessing import guess_fields
from studio.importing.heading_words import (
    IGNORED,
    INVENTORY,
    LOG,
    fields,
    is_known,
    known,
    known_field,
    normal,
)
from studio.importing.layout import Column, Layout
from studio.importing.second_look import looked_at_again
from studio.importing.table import Row
from studio.importing.words import fold

CURRENCY_SIGNS = {"£": "value", "€": "value", "$": "value", "chf": "value"}
TWO_MEANINGS = {
    "location": (
        r"^\W*\d[\d.,' ]*\W*(?:EUR|€|£|\$|CHF)?\W*$",
        "rate",
    ),  # French for hire, English for a place
    "nombre": (
        r"^(?:[x×~]\s?)?\d{1,4}(?:\s?[^\W\d]{1,6}\.?)?$",
        "quantity",
    ),  # French for how many, Spanish for a name
    "#": (r"^\d{1,4}$", "quantity"),
    "erledigt": (r"^\d{1,4}[./-]\d{1,2}[./-]\d", "closed"),  # German for done, and for when
}
ALIKE = 88
LOOKED_AT = 40
LONGEST_HEADING = 50
REFUSING_A_LOG = {"serial", "maker", "quantity", "value", "place"}
NAMING = {
    "bezeichnung", "designation", "libelle", "gegenstand", "gerat", "appareil", "equipement", "equipo", "aparato",
    "apparecchio", "apparaat", "what", "what is it", "was", "wat", "quoi", "que es", "cosa",
}  # fmt: skip
PLAIN = [
    "rate",
    "deposit",
    "cost",
    "order",
    "value",
    "bought",
    "serial",
]  # what decides, in a heading of several words
SEVERAL = {
    "other",
    IGNORED,
    "notes",
    "condition",
    "kept",
    "rate",
    "deposit",
    "cost",
    "order",
    "accessories",
    "tested",
}


def find_layout(
    rows: Sequence[Row], remembered: Mapping[tuple[str, str], str], chosen: Mapping[int, str]
) -> Layout:
    """remembered: (folded heading, sort) to field; chosen: column index to field, for this file."""
    words = heading_words(remembered)
    head = max(rows[:LOOKED_AT], key=lambda row: (_heading_merit(row, words), -row.number), default=None)
    width = _usual_width(rows)
    if head is not None and _heading_merit(head, words) >= 2:
        return layout_of(head, remembered, chosen, rows)
    head = _by_form(rows)
    below = [row for row in rows if head is None or row.number > head.number]
    columns = _by_contents(below, width, chosen, head)
    return Layout(
        head.number if head else 0, INVENTORY, tuple(columns), max(width, len(head.cells) if head else 0)
    )


def heading_words(remembered: Mapping[tuple[str, str], str]) -> frozenset[str]:
    """Every folded heading that is known, or was confirmed."""
    return frozenset(known(INVENTORY)) | frozenset(known(LOG)) | {heading for heading, _ in remembered}


def _heading_merit(row: Row, known: frozenset[str]) -> float:
    """Known headings in this row, or 0 where they are few among what else stands in it."""
    cells = [cell for _, cell in row.filled]
    found = len(
        {
            folded
            for cell in cells
            if len(cell) < LONGEST_HEADING and ((folded := fold(cell)) in known or is_known(cell))
        }
    )
    if not found or found * 2 < len(cells):
        return 0
    figures = sum(any(char.isdigit() for char in cell) for cell in cells)
    return found if figures * 3 <= len(cells) else 0


def is_heading_row(row: Row, known: frozenset[str]) -> bool:
    return _heading_merit(row, known) >= 3


def _by_form(rows: Sequence[Row]) -> Row | None:
    """Headings in a language that isn't known: the first full row, words only, over columns that hold figures."""
    head = next((row for row in rows if len(row.filled) >= 3), None)
    if head is None or any(re.search(r"\d", cell) or len(cell) >= LONGEST_HEADING for _, cell in head.filled):
        return None
    cells = [cell for _, cell in head.filled]
    below = [row for row in rows if row.number > head.number and len(row.filled) > 1]
    figures = [index for index, _ in head.filled if below and _mostly(r"\d", below, index)]
    return head if len(set(cells)) == len(cells) and len(figures) >= 2 else None


def _mostly(pattern: str, rows: Sequence[Row], index: int) -> bool:
    cells = [cell for row in rows if (cell := row.cell(index))]
    return sum(bool(re.search(pattern, cell)) for cell in cells) * 2 > len(cells)


def _other_language(heading: str, below: Sequence[Row], index: int) -> str:
    """A word that means different things in two languages is told by what stands in the column. Empty: as it is."""
    pattern, field = TWO_MEANINGS.get(fold(heading) or heading, ("", ""))
    return field if pattern and _mostly(pattern, below, index) else ""


def layout_of(
    head: Row, remembered: Mapping[tuple[str, str], str], chosen: Mapping[int, str], rows: Sequence[Row]
) -> Layout:
    sort = _sort(head)
    taken: set[str] = set()
    below = [row for row in rows if row.number > head.number]
    columns: list[Column] = []
    width = max(len(head.cells), _usual_width(below))
    for index in range(width):
        heading = head.cell(index)
        if not heading and not _used(rows, index, head.number):
            continue
        column = _column(index, heading, sort, remembered, chosen)
        other = _other_language(heading, below, index)
        if index not in chosen and other in fields(sort):
            column = Column(index, column.heading, other)
        if column.field in taken and index not in chosen:
            column = Column(index, column.heading, _second(column.field, sort, taken), certain=False)
        taken |= {column.field} - SEVERAL
        columns.append(column)
    if sort == INVENTORY:
        columns = looked_at_again(columns, chosen, remembered, below)
    return Layout(head.number, sort, _with_a_model(columns, chosen), width)


def _with_a_model(columns: Sequence[Column], chosen: Mapping[int, str]) -> tuple[Column, ...]:
    """In a list without a model, “Bezeichnung” and its like name the thing; beside a model they say its kind."""
    if any(column.field in {"model", "unit"} for column in columns):
        return tuple(columns)
    return tuple(
        Column(column.index, column.heading, "model", column.certain)
        if column.field == "kind" and column.index not in chosen and fold(column.heading) in NAMING
        else column
        for column in columns
    )


def _second(field: str, sort: str, taken: set[str]) -> str:
    """A second column of the same meaning: what is said twice of “kind” and “model” is often the other one."""
    swap = {"kind": "model", "model": "kind"} if sort == INVENTORY else {}
    other = swap.get(field, "other")
    return other if other not in taken else "other"


def _sort(head: Row) -> str:
    """A log names a unit, a fault and what became of it, and says little of what a unit is or costs."""
    folded = [fold(cell) for cell in head.cells if cell]
    log = {field for cell in head.cells if cell and (field := known_field(cell, LOG))}
    stock = {known(INVENTORY)[word] for word in folded if word in known(INVENTORY)} & REFUSING_A_LOG
    events = len(log & {"seen", "done", "closed", "status", "who"})
    if not {"fault", "unit"} <= log:
        return INVENTORY
    return LOG if (events >= 2 and len(stock) < 2) or (events and not stock) else INVENTORY


def _column(
    index: int, heading: str, sort: str, remembered: Mapping[tuple[str, str], str], chosen: Mapping[int, str]
) -> Column:
    shown = heading.replace("\n", " ") or f"column {index + 1}"
    if index in chosen:
        return Column(index, shown, chosen[index])
    if (confirmed := remembered.get((normal(heading), sort), "")) in fields(sort):
        return Column(index, shown, confirmed)
    if field := known_field(heading, sort):
        return Column(index, shown, field)
    if sign := next((sign for sign in CURRENCY_SIGNS if sign in heading), ""):
        return Column(index, shown, "cost" if sort == LOG else CURRENCY_SIGNS[sign])
    return _alike(index, shown, normal(heading), sort)


def _alike(index: int, shown: str, form: str, sort: str) -> Column:
    """A misspelt heading, or one known word in a longer one; to be confirmed."""
    words = known(sort)
    if len(form) > 3 and (
        near := process.extractOne(form, words.keys(), scorer=fuzz.ratio, score_cutoff=ALIKE)
    ):
        return Column(index, shown, words[near[0]], certain=False)
    parts = [words[word] for word in form.split() if len(word) > 2 and word in words]
    if {"maker", "model"} <= set(parts):
        return Column(index, shown, "model", certain=False)
    return Column(
        index, shown, next((part for part in PLAIN if part in parts), (parts or ["other"])[0]), certain=False
    )


def _used(rows: Sequence[Row], index: int, below: int) -> bool:
    return any(index < len(row.cells) and row.cells[index] for row in rows if row.number > below)


def _usual_width(rows: Iterable[Row]) -> int:
    widths = sorted(len(row.cells) for row in rows if row.filled)
    return widths[(len(widths) - 1) // 2] if widths else 0


def _by_contents(
    rows: Sequence[Row], width: int, chosen: Mapping[int, str], head: Row | None
) -> list[Column]:
    """Columns guessed from what stands in them; every one is to be confirmed."""
    guesses = guess_fields([[row.cell(i) for row in rows] for i in range(width)])
    names = [(head.cell(i) if head else "") or f"column {i + 1}" for i in range(width)]
    return [
        Column(i, names[i], chosen.get(i, field), certain=i in chosen)
        for i, field in enumerate(guesses)
        if field or i in chosen
    ]
