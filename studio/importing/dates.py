"""Dates as people write them: 03/04/2021 · 03.04.2021 · 12 Jun 21 · 11/2019 · 2018."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, timedelta
from functools import cache

from studio.importing.words import data, fold

DAY_FIRST, MONTH_FIRST = "day first", "month first"
THREE = re.compile(r"^(\d{1,2})([/.\-])(\d{1,2})\2(\d{2}|\d{4})$")
ISO = re.compile(r"^(\d{4})[-/.](\d{1,2})(?:[-/.](\d{1,2}))?(?:[T ].*)?$")
MONTH_YEAR = re.compile(r"^(\d{1,2})[/.\-](\d{4})$")
NAMED = re.compile(
    r"^(?:(\d{1,2})\.?)?(?:st|nd|rd|th|er|º)?\s*(?:de |di )?([^\W\d_]+)\.?,?\s*(?:de |di )?'?(\d{2}|\d{4})$"
)
NAMED_FIRST = re.compile(r"^([^\W\d_]+)\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})$")
FIRST_YEAR = 1900
DAY_NUMBER = re.compile(r"[2-5]\d{4}")
BEFORE_DAY_1 = date(1899, 12, 30)


def order_of(cells: Iterable[str]) -> set[str]:
    """The orders of day and month that these cells use beyond doubt."""
    found = set()
    for cell in cells:
        if match := THREE.match(cell.strip()):
            first, second = int(match[1]), int(match[3])
            if match[2] == "." or (first > 12 and second <= 12):
                found.add(DAY_FIRST)
            elif second > 12 and first <= 12:
                found.add(MONTH_FIRST)
    return found


def can_be_read_two_ways(cell: str) -> bool:
    """Both numbers could be the month, they differ, and no dot says that it is written the day first."""
    match = THREE.match(cell.strip())
    if match is None or match[2] == "." or int(match[1]) == int(match[3]):
        return False
    return int(match[1]) <= 12 >= int(match[3])


def read_date(cell: str, order: str, this_year: int) -> str | None:
    """ISO 8601, as exact as the cell: 2021-04-03, 2019-11, 2018. None: it can't be read, or not without an order."""
    text = cell.strip()
    if re.fullmatch(r"(19|20)\d\d", text):
        return text
    for shape, reading in ((ISO, _iso), (MONTH_YEAR, _month_year)):
        if match := shape.match(text):
            return reading(match)
    if match := THREE.match(text):
        return _three(match, order, this_year)
    return _named(text, this_year)


def read_day_number(cell: str) -> str:
    """“43831” is 2020-01-01 in a spreadsheet program's count of days (ECMA-376-1, 18.17.4.1); empty if it is none."""
    return (BEFORE_DAY_1 + timedelta(days=int(cell))).isoformat() if DAY_NUMBER.fullmatch(cell) else ""


def _iso(match: re.Match[str]) -> str | None:
    return _date(int(match[1]), int(match[2]), int(match[3]) if match[3] else None)


def _month_year(match: re.Match[str]) -> str | None:
    return _date(int(match[2]), int(match[1]), None)


def _three(match: re.Match[str], order: str, this_year: int) -> str | None:
    first, second, year = int(match[1]), int(match[3]), _year(match[4], this_year)
    sure = order_of([match[0]])
    chosen = next(iter(sure)) if sure else DAY_FIRST if first == second else order
    if not chosen:
        return None
    day, month = (first, second) if chosen == DAY_FIRST else (second, first)
    return _date(year, month, day)


@cache
def _months() -> dict[str, int]:
    return {fold(name): int(number) for number, names in data("words")["months"].items() for name in names}


def _named(text: str, this_year: int) -> str | None:
    if (match := NAMED.match(text)) and (month := _months().get(fold(match[2]))):
        return _date(_year(match[3], this_year), month, int(match[1]) if match[1] else None)
    if (match := NAMED_FIRST.match(text)) and (month := _months().get(fold(match[1]))):
        return _date(int(match[3]), month, int(match[2]))
    return None


def _year(text: str, this_year: int) -> int:
    if len(text) == 4:
        return int(text)
    year = 2000 + int(text)
    return year if year <= this_year + 1 else year - 100


def _date(year: int, month: int, day: int | None) -> str | None:
    try:
        whole = date(year, month, day or 1)
    except ValueError:
        return None
    if year < FIRST_YEAR:
        return None
    return whole.isoformat() if day else whole.isoformat()[:7]
