"""What each row of a list of gear is: blank, a heading over others, a total, a footer, headings again, or a thing."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from studio.importing.heading_words import INVENTORY, LOG
from studio.importing.headings import heading_words, is_heading_row, layout_of
from studio.importing.kinds import kind_name
from studio.importing.layout import Layout
from studio.importing.quantities import read_quantity
from studio.importing.remarks import section_says
from studio.importing.table import Row
from studio.importing.words import begins_with, fold, words

FEW = 3
TOTALS = [["total"], ["gesamt"], ["totale"], ["totaal"], ["summe"], ["insgesamt"]]
COUNT_BEHIND = re.compile(r"\s*[(\[]\s*\d{1,4}\s*[^\W\d_]{0,6}\.?\s*[)\]]\s*:?$")
LONGEST_TAG = 20
SUM = re.compile(r"^\W*(?:[A-Z]{3})?\W*\d[\d.,' ]*\W*(?:[A-Z]{3}|EUR|DM)?\W*$")
NAMES = {INVENTORY: {"tag", "kind", "maker", "model", "serial"}, LOG: {"unit", "fault"}}


class Sort(StrEnum):
    BLANK = "blank"
    ABOVE = "above the headings"
    HEADINGS = "the headings"
    AGAIN = "the headings once more"
    SECTION = "heading over the rows below"
    TOTAL = "total"
    FOOTER = "footer"
    LOOSE = "names no thing; it may belong to the row above"
    THING = "thing"


@dataclass(frozen=True, slots=True)
class Sorted:
    """A row, what it is, the layout that holds for it and the heading that stands over it."""

    row: Row
    sort: Sort
    layout: Layout
    section: str = ""


def sort_rows(
    rows: Sequence[Row], layout: Layout, remembered: Mapping[tuple[str, str], str], chosen: Mapping[int, str]
) -> list[Sorted]:
    totals = {row.number for row in rows if row.number > layout.row and _is_total(row)}
    last_thing = max(
        (row.number for row in rows if row.number not in totals and _is_whole(row, layout)), default=0
    )
    ended = min((number for number in totals if number > last_thing), default=last_thing)
    known = heading_words(remembered)
    found: list[Sorted] = []
    section = ""
    for row in rows:
        sort = Sort.TOTAL if row.number in totals else _sort(row, layout, known, ended)
        if sort is Sort.AGAIN and row.cells != rows[layout.row - 1].cells:
            layout = layout_of(row, remembered, chosen, rows)
        if sort is Sort.SECTION:
            section = row.filled[0][1]
        found.append(Sorted(row, sort, layout, section))
    return found


def _sort(row: Row, layout: Layout, known: frozenset[str], ended: int) -> Sort:
    if not row.filled or not any(re.search(r"\w", cell) for _, cell in row.filled):
        return Sort.BLANK
    if row.number == layout.row:
        return Sort.HEADINGS
    if row.number < layout.row:
        return Sort.ABOVE
    if layout.row and is_heading_row(row, known):
        return Sort.AGAIN
    if len(row.filled) == 1 and len(layout.columns) >= FEW:
        return _alone(row, layout, ended)
    if len(row.filled) <= FEW and row.number > ended and begins_with(row.filled[0][1], words("footer")):
        return Sort.FOOTER
    return Sort.THING if _names_a_thing(row, layout) else Sort.LOOSE


def _names_a_thing(row: Row, layout: Layout) -> bool:
    names = NAMES[layout.sort] & layout.fields
    return not names or any(row.cell(layout.index(name)) for name in names)


def _alone(row: Row, layout: Layout, ended: int) -> Sort:
    """A row with one cell: a date stamp, a heading over others, or a thing of which nothing else is said."""
    index, cell = row.filled[0]
    cell = COUNT_BEHIND.sub("", cell)
    if ended and row.number > ended:
        return Sort.FOOTER
    if begins_with(cell, words("footer")) and re.search(r"[\d:]", cell):
        return Sort.FOOTER
    field = next((column.field for column in layout.columns if column.index == index), "")
    out_of_place = layout.sort == LOG or (field == "quantity" and not read_quantity(cell))
    out_of_place |= field == "tag" and not (re.search(r"\d", cell) and len(cell) < LONGEST_TAG)
    loud = cell.isupper() and len(fold(cell)) > FEW and not re.search(r"\d", cell)
    says = (
        section_says(cell)
        or names_a_place(cell)
        or (kind_name(cell) and not re.search(r"\d", cell) and field != "kind")
    )
    if out_of_place or loud or says or row.filled[0][1].endswith(":"):
        return Sort.SECTION
    return Sort.THING if _names_a_thing(row, layout) else Sort.LOOSE


def names_a_place(heading: str) -> bool:
    """“Studio B”, “Lager:”: two words at most, the first of them a place's."""
    found = fold(heading).split()
    return len(found) <= 2 and begins_with(heading, words("places"))


def _is_total(row: Row) -> bool:
    """“Total …” in a row that names no thing: a label, and counts and amounts beside it."""
    first = [index for index, cell in row.filled if begins_with(cell, words("total"))]
    last = [index for index, cell in row.filled if fold(cell).split()[-1:] in TOTALS]
    others = [cell for index, cell in row.filled if index not in {*first, *last} and not SUM.match(cell)]
    return bool(first and len(row.filled) <= FEW) or bool(
        (first or last) and not others and len(row.filled) > 1
    )


def _is_whole(row: Row, layout: Layout) -> bool:
    return row.number > layout.row and len(row.filled) > 1
