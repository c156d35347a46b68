"""Columns without headings: what each may be, by what stands in it."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from studio.importing.amounts import ALL_THOUSANDS, read_amount
from studio.importing.dates import read_date
from studio.importing.kinds import kind_name
from studio.importing.quantities import read_quantity

SERIAL = re.compile(r"^(?=.*\d)[\w#/. -]{3,20}$")
MOST = 0.6
ANY_YEAR = 2100


def guess_fields(columns: Sequence[Sequence[str]]) -> list[str]:
    """A field for each column, “other” where nothing fits, empty for a column with nothing in it."""
    cells = [[cell for cell in column if cell] for column in columns]
    if sum(map(bool, cells)) == 1:
        return ["model" if filled else "" for filled in cells]
    guesses = ["other" if filled else "" for filled in cells]
    for field, fits in TESTS:
        merits = [_merit(filled, fits) if guesses[i] == "other" else 0 for i, filled in enumerate(cells)]
        best = max(range(len(cells)), key=lambda i: merits[i], default=0)
        if cells and merits[best] >= MOST:
            guesses[best] = field
    return _names(guesses, cells)


def share_of_kinds(cells: Sequence[str]) -> float:
    """How many of the filled cells name a kind of thing, from 0 to 1."""
    filled = [cell for cell in cells if cell]
    return _share(kind_name)(filled) if filled else 0


def _merit(cells: Sequence[str], fits: Callable[[Sequence[str]], float]) -> float:
    return fits(cells) if cells else 0


def _share(test: Callable[[str], object]) -> Callable[[Sequence[str]], float]:
    return lambda cells: sum(bool(test(cell)) for cell in cells) / len(cells)


def _money(cell: str) -> bool:
    return bool(re.search(r"[£€$]|\d[.,]\d\d\b", cell)) and read_amount(cell, ALL_THOUSANDS) is not None


def _date(cell: str) -> bool:
    return len(cell) > 4 and read_date(cell, "day first", ANY_YEAR) is not None


def _small_number(cell: str) -> bool:
    quantity = read_quantity(cell)
    return quantity is not None and (quantity.number or 0) < 200 and not re.match(r"0\d", cell)


def _tags(cells: Sequence[str]) -> float:
    """Short, with a figure, and each once."""
    alike = _share(lambda cell: re.match(r"^[A-Za-z]{0,4}[-_ ]?\d{2,6}$|^[A-Za-z]{1,4}\d$", cell))(cells)
    return alike * (len(set(cells)) / len(cells)) ** 4


def _serials(cells: Sequence[str]) -> float:
    if len(cells) < 2:
        return 0
    figures = _share(lambda cell: re.search(r"\d{3}", cell))(cells)
    return _share(SERIAL.match)(cells) * (0.7 + 0.3 * figures) * len(set(cells)) / len(cells)


TESTS: list[tuple[str, Callable[[Sequence[str]], float]]] = [
    ("value", _share(_money)),
    ("bought", _share(_date)),
    ("quantity", _share(_small_number)),
    ("kind", _share(kind_name)),
    ("tag", _tags),
    ("serial", _serials),
]


def _names(guesses: list[str], cells: Sequence[Sequence[str]]) -> list[str]:
    """Of what is left, the first short column is the maker if another follows, the model; long text is notes."""
    left = [i for i, guess in enumerate(guesses) if guess == "other"]
    mean = {i: sum(map(len, cells[i])) / len(cells[i]) for i in left}
    if left and mean[left[-1]] > 15 and len(left) > 1:
        guesses[left.pop()] = "notes"
    for i, field in zip(left, ["model"] if len(left) == 1 else ["maker", "model", "place"], strict=False):
        guesses[i] = field
    return guesses
