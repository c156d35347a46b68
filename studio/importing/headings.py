"""Which row holds the headings, and which field each column is: by words of six languages, likeness, and contents."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from rapidfuzz import fuzz, process

from studio.importing.guessing import guess_fields
from studio.importing.table import Row
from studio.importing.words import data, fold

INVENTORY, LOG = "inventory", "log"
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
}
ALIKE = 88
LOOKED_AT = 40
LONGEST_HEADING = 50
REFUSING_A_LOG = {"serial", "maker", "quantity", "value", "place"}
IGNORED = "ignore"
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


@dataclass(frozen=True, slots=True)
class Column:
    """index from 0. certain: the word is known, or a person confirmed it."""

    index: int
    heading: str
    field: str
    certain: bool = True

    @property
    def named(self) -> bool:
        """Not where the file has no heading for it: such a column is called by its number."""
        return self.heading != f"column {self.index + 1}"


@dataclass(frozen=True, slots=True)
class Layout:
    """row: number of the heading row, 0 if there is none. sort: an inventory or a log of faults."""

    row: int
    sort: str
    columns: tuple[Column, ...]
    width: int

    def index(self, field: str) -> int | None:
        return next((column.index for column in self.columns if column.field == field), None)

    @property
    def fields(self) -> set[str]:
        return {column.field for column in self.columns}


@cache
def _known(sort: str) -> dict[str, str]:
    return {fold(word): field for field, words in data("headings")[sort].items() for word in words}


@cache
def fields(sort: str) -> list[str]:
    return [*data("headings")[sort], "other", IGNORED]


def field_name(field: str) -> str:
    """A field as people are shown it."""
    return str(data("headings")["names"].get(field, field))


def words_known(cells: Sequence[str]) -> int:
    """How many of these cells are known headings, word for word."""
    return len(
        {fold(cell) for cell in cells if 0 < len(cell) < 50} & (_known(INVENTORY).keys() | _known(LOG).keys())
    )


def find_layout(
    rows: Sequence[Row], remembered: Mapping[tuple[str, str], str], chosen: Mapping[int, str]
) -> Layout:
    """remembered: (folded heading, sort) to field; chosen: column index to field, for this file."""
    known = heading_words(remembered)
    head = max(rows[:LOOKED_AT], key=lambda row: (_heading_merit(row, known), -row.number), default=None)
    width = _usual_width(rows)
    if head is not None and _heading_merit(head, known) >= 2:
        return layout_of(head, remembered, chosen, rows)
    head = _by_form(rows)
    below = [row for row in rows if head is None or row.number > head.number]
    columns = _by_contents(below, width, chosen, head)
    return Layout(
        head.number if head else 0, INVENTORY, tuple(columns), max(width, len(head.cells) if head else 0)
    )


def heading_words(remembered: Mapping[tuple[str, str], str]) -> frozenset[str]:
    """Every folded heading that is known, or was confirmed."""
    return frozenset(_known(INVENTORY)) | frozenset(_known(LOG)) | {heading for heading, _ in remembered}


def _heading_merit(row: Row, known: frozenset[str]) -> float:
    """Known headings in this row, or 0 where they are few among what else stands in it."""
    cells = [cell for _, cell in row.filled]
    found = len({folded for cell in cells if len(cell) < LONGEST_HEADING and (folded := fold(cell)) in known})
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
        if index not in chosen and (other := _other_language(heading, below, index)):
            column = Column(index, column.heading, other)
        if column.field in taken and index not in chosen:
            column = Column(index, column.heading, _second(column.field, sort, taken), certain=False)
        taken |= {column.field} - SEVERAL
        columns.append(column)
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
    log = {_known(LOG)[word] for word in folded if word in _known(LOG)}
    stock = {_known(INVENTORY)[word] for word in folded if word in _known(INVENTORY)} & REFUSING_A_LOG
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
    forms = [fold(heading), fold(heading.split("(")[0])]
    if not {"maker", "model"} <= {_known(sort).get(fold(part)) for part in heading.split("/")}:
        forms.append(fold(heading.split("/")[0]))
    if remembered.get((forms[0], sort)) in fields(sort):
        return Column(index, shown, remembered[forms[0], sort])
    for form in forms:
        if form and form in _known(sort):
            return Column(index, shown, _known(sort)[form])
    if sign := next((sign for sign in CURRENCY_SIGNS if sign in heading), ""):
        return Column(index, shown, "cost" if sort == LOG else CURRENCY_SIGNS[sign])
    return _alike(index, shown, forms[0], sort)


def _alike(index: int, shown: str, form: str, sort: str) -> Column:
    """A misspelt heading, or one known word in a longer one; to be confirmed."""
    known = _known(sort)
    if len(form) > 3 and (
        near := process.extractOne(form, known.keys(), scorer=fuzz.ratio, score_cutoff=ALIKE)
    ):
        return Column(index, shown, known[near[0]], certain=False)
    parts = [known[word] for word in form.split() if len(word) > 2 and word in known]
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
