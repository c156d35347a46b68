"""What a thing cost and when it was bought, as a row of a list says it."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

from studio.importing.amounts import Signs, currency_of, read_amount
from studio.importing.columns import BASES
from studio.importing.dates import read_date, read_day_number
from studio.importing.desk import Desk, Thing
from studio.importing.table import Finding

CENT = Decimal("0.01")


def bought(desk: Desk) -> str:
    cell, index = desk.cell("bought"), desk.column("bought")
    if not cell or index is None or not re.search(r"\w", cell):
        return ""
    order = desk.ways.orders.get(index, "")
    if read := read_date(cell, order, desk.ways.this_year):
        return read
    if read := read_day_number(cell):
        desk.ask(f"“{cell}” is taken as {read}, the day number of a spreadsheet program. Right?")
        return read
    desk.keep("bought", cell)
    if not _asked_for_column(desk, index):
        desk.ask(
            f"“{cell}” can't be read as a date. It is kept as a remark; write it like 2021-04-03 or 2021."
        )
    return ""


def _asked_for_column(desk: Desk, index: int) -> bool:
    heading = desk.heading("bought")
    return any(question.column == heading for question in desk.ways.questions) and bool(
        re.match(r"\d", desk.row.cell(index))
    )


def with_value(desk: Desk, thing: Thing) -> Thing:
    cell, index = desk.cell("value"), desk.column("value")
    if index is None or not re.search(r"\d", cell):
        if re.search(r"\w", cell):
            desk.keep("value", cell)
        return thing
    amount = read_amount(cell, desk.ways.signs.get(index, Signs()))
    currency = (
        currency_of(desk.cell("currency"))
        or (amount.currency if amount else "")
        or desk.ways.currencies.get(index, "")
    )
    if amount is None or amount.value is None:
        if amount is None:
            desk.ask(f"“{cell}” can't be read as one amount. It is kept as a remark.")
        desk.keep("value", cell)
        return thing
    value = _for_one(desk, thing, amount.value, amount.basis, index)
    if value is None or thing.stock or amount.basis in {"pair", "all"} or amount.about:
        desk.keep("value", cell)
    return replace(thing, value=value, currency=currency if value is not None else "")


def _for_one(desk: Desk, thing: Thing, value: Decimal, basis: str, index: int) -> Decimal | None:
    """The value of one piece. None: each or all isn't known; that is asked once for the column."""
    pieces = thing.pieces or 1
    if basis == "pair":
        return _money(value / 2 if pieces > 1 else value)
    basis = basis or desk.ways.bases.get(index, "") or desk.answers.get(f"column {index + 1}: basis", "")
    if pieces == 1 or basis == "each":
        return _money(value)
    if basis == "all":
        return _money(value / pieces)
    key, heading = f"column {index + 1}: basis", desk.heading("value")
    if all(question.key != key for question in desk.ways.questions):
        what = (
            f"“{desk.cell('value')}” beside a quantity of {pieces} (row {thing.row}): for each, or for all? "
            "Kept as a remark until that is known, here and in the rows like it."
        )
        desk.ways.questions.append(Finding(what, column=heading, key=key, options=BASES))
    return None


def _money(value: Decimal) -> Decimal:
    return value.quantize(CENT, ROUND_HALF_UP) if value != value.quantize(CENT) else value
