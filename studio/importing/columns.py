"""How a file writes dates and amounts, judged over whole columns: what is not sure is asked once for the column."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from statistics import median

from studio.importing import amounts, dates
from studio.importing.layout import Layout
from studio.importing.table import Finding, Row
from studio.importing.words import found_in, words

DATES = ("bought", "seen", "closed")
OLD_MONEY = {"DEM", "FRF", "ESP", "ITL", "NLG", "ATS"}
SHOWN = 3
ENOUGH = 3
FAR = 20
ORDERS = ((dates.DAY_FIRST, "the day first"), (dates.MONTH_FIRST, "the month first"))
SIGNS = (
    (",", "the comma before the cents"),
    (".", "the point before the cents"),
    ("thousands", "whole thousands"),
)
READINGS = {
    ",": amounts.Signs(".", ","),
    ".": amounts.Signs(",", "."),
    "thousands": amounts.ALL_THOUSANDS,
}
BASES = (("each", "for each"), ("all", "for all of them"))


@dataclass(slots=True)
class Conventions:
    """By column index. An order, currency or basis that is empty is not known."""

    orders: dict[int, str] = field(default_factory=dict)
    signs: dict[int, amounts.Signs] = field(default_factory=dict)
    currencies: dict[int, str] = field(default_factory=dict)
    bases: dict[int, str] = field(default_factory=dict)
    questions: list[Finding] = field(default_factory=list)
    asked: set[str] = field(default_factory=set)
    this_year: int = 0


def conventions(
    rows: Sequence[Row], layout: Layout, answers: Mapping[str, str], this_year: int
) -> Conventions:
    """rows: the rows that describe things or events. answers: by question key."""
    found = Conventions(this_year=this_year)
    columns = [column for column in layout.columns if column.field in DATES]
    _read_orders(found, {c.index: (c.heading, list(_cells(rows, c.index))) for c in columns}, answers)
    for column in layout.columns:
        if column.field in {"value", "cost"}:
            cells = list(_cells(rows, column.index))
            _read_signs(found, column.index, column.heading, cells, answers)
            found.currencies[column.index] = _currency(found, column.index, column.heading, cells, answers)
            found.bases[column.index] = _basis_of(column.heading)
    return found


def _cells(rows: Sequence[Row], index: int) -> Iterator[str]:
    return (cell for row in rows if (cell := row.cell(index)))


def _read_orders(
    found: Conventions, columns: dict[int, tuple[str, list[str]]], answers: Mapping[str, str]
) -> None:
    everywhere = set[str]().union(*(dates.order_of(cells) for _, cells in columns.values()))
    for index, (heading, cells) in columns.items():
        sure = dates.order_of(cells) or everywhere
        two_ways = [cell for cell in cells if dates.can_be_read_two_ways(cell)]
        key = f"column {index + 1}: order"
        order = answers.get(key) or (next(iter(sure)) if len(sure) == 1 else "")
        found.orders[index] = order
        if two_ways and not order:
            both = " Both orders occur in it." if len(sure) > 1 else ""
            what = f"{_some(two_ways)}: the day first, or the month?{both} Left out until that is known."
            found.questions.append(Finding(what, column=heading, key=key, options=ORDERS))


def _read_signs(
    found: Conventions, index: int, heading: str, cells: list[str], answers: Mapping[str, str]
) -> None:
    key = f"column {index + 1}: sign"
    if key in answers:
        found.signs[index] = READINGS[answers[key]]
        return
    sure = amounts.decimal_signs(cells)
    signs = amounts.Signs(thousands="".join({".", ","} - sure) if len(sure) == 1 else "")
    doubtful = [cell for cell in cells if amounts.doubtful_signs(cell) - set(signs.thousands)]
    if doubtful and _plainly_thousands(doubtful, cells):
        signs, doubtful = amounts.ALL_THOUSANDS, []
    if doubtful:
        what = f"{_some(doubtful)}: thousands, or a decimal sign? Left out until that is known."
        found.questions.append(Finding(what, column=heading, key=key, options=SIGNS))
    found.signs[index] = signs


def _plainly_thousands(doubtful: list[str], cells: list[str]) -> bool:
    """The column's sure amounts say so: read as thousandths, these would be far below the usual ones."""
    sure = [a.value for cell in cells if (a := amounts.read_amount(cell, amounts.Signs())) and a.value]
    read = [
        a.value for cell in doubtful if (a := amounts.read_amount(cell, amounts.ALL_THOUSANDS)) and a.value
    ]
    if len(sure) < ENOUGH or not read:
        return False
    return all(value / 1000 < median(sure) / FAR and value <= max(sure) * FAR for value in read)


def _basis_of(heading: str) -> str:
    if found_in(heading, words("for_all")):
        return "all"
    return "each" if found_in(heading, words("each")) else ""


def _currency(
    found: Conventions, index: int, heading: str, cells: list[str], answers: Mapping[str, str]
) -> str:
    """For the amounts without a sign: what the heading or an answer says, else what the others of the column have."""
    key = f"column {index + 1}: currency"
    if said := answers.get(key) or amounts.currency_of(heading):
        return said
    named = Counter(code for cell in cells if (code := amounts.currency_of(cell)))
    now = [code for code in named if code not in OLD_MONEY]
    bare = [cell for cell in cells if not amounts.currency_of(cell) and amounts.NUMBER.search(cell)]
    if len(now) > 1 and bare:
        what = f"{_some(bare)}: in which currency? Taken as the house's until that is known."
        options = tuple((code, code) for code in now)
        found.questions.append(Finding(what, column=heading, key=key, options=options))
    return now[0] if len(now) == 1 else ""


def _some(cells: Sequence[str]) -> str:
    shown = ", ".join(f"“{cell}”" for cell in list(dict.fromkeys(cells))[:SHOWN])
    more = len(set(cells)) - SHOWN
    return f"{shown} and {more} more" if more > 0 else shown
