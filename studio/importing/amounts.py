"""Amounts as people write them: 1.249,00 € · £89 ea · 4.800,- · 1.4k · 2.400 DM. Decimals only, never floats."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from studio.importing.words import data, found_in, words

NUMBER = re.compile(r"(?<![\w.,])-?\d+(?:[.,'’ ]\d+)*(?:\s?[kK]\b)?")
NO_CENTS = re.compile(r"\d([.,])(?:[-–—]|--)(?:\D|$)")
ONE_SIGN = re.compile(r"^\d+([.,])(\d+)$")
THOUSANDS = re.compile(r"^\d{1,3}(?:[.,'’ ]\d{3})+(?:[.,]\d{1,2})?$")
LARGEST = Decimal(10) ** 8


@dataclass(frozen=True, slots=True)
class Amount:
    """value None: the decimal sign isn't known. basis: each, pair, all, or empty where the cell doesn't say."""

    value: Decimal | None
    currency: str
    basis: str
    about: bool = False


@dataclass(frozen=True, slots=True)
class Signs:
    """What a point or comma with three figures after it is in a column; a sign in neither isn't known."""

    thousands: str = ""
    decimals: str = ""


ALL_THOUSANDS = Signs(thousands=".,")


def decimal_signs(cells: Iterable[str]) -> set[str]:
    """The decimal signs that these cells use beyond doubt: the last of two, or one with one or two figures after."""
    cells = list(cells)
    by_number = {sign for cell in cells for number in NUMBER.findall(cell) if (sign := _sure_sign(number))}
    return by_number | {match[1] for cell in cells if (match := NO_CENTS.search(cell))}


def doubtful_signs(cell: str) -> set[str]:
    """The signs in this cell that can be read two ways: three figures follow, thousands or thousandths."""
    return {sign for number in NUMBER.findall(cell) if (sign := _doubtful_sign(number))}


def read_amount(cell: str, signs: Signs) -> Amount | None:
    """None: there isn't exactly one amount in the cell that can be one."""
    numbers = NUMBER.findall(re.sub(r"[€£$#¥]", " ", cell))
    numbers = [
        number for number in numbers if number[-1] in "kK" or " " not in number or THOUSANDS.match(number)
    ]
    if len(numbers) != 1:
        return None
    value = to_decimal(numbers[0], signs)
    if value is not None and not 0 <= value < LARGEST:
        return None
    about = cell.lstrip().startswith("~") or bool(found_in(cell, words("about")))
    return Amount(value, currency_of(cell), _basis(cell), about)


def to_decimal(number: str, signs: Signs) -> Decimal | None:
    """None: it can be read two ways, and the signs don't settle it."""
    thousand = number[-1] in "kK"
    number = re.sub(r"[\s'’kK]", "", number)
    decimal_sign = _sure_sign(number)
    if doubtful := _doubtful_sign(number):
        if doubtful not in signs.thousands + signs.decimals:
            return None
        decimal_sign = doubtful if doubtful in signs.decimals else ""
    for other in {".", ","} - {decimal_sign}:
        number = number.replace(other, "")
    value = Decimal(number.replace(",", "."))
    return value * 1000 if thousand else value


def _sure_sign(number: str) -> str:
    thousand = number[-1] in "kK"
    number = re.sub(r"[\s'’kK-]", "", number)
    signs = [char for char in number if char in ".,"]
    if len(set(signs)) == 2 and signs.count(signs[-1]) == 1:
        return signs[-1]
    one = ONE_SIGN.match(number)
    if one and (thousand or len(one[2]) != 3 or number.startswith("0")):
        return one[1]
    return ""


def _doubtful_sign(number: str) -> str:
    one = ONE_SIGN.match(re.sub(r"[\s'’kK-]", "", number))
    return one[1] if one and not _sure_sign(number) else ""


@cache
def _currency_words() -> dict[str, str]:
    return {word: code for code, names in data("words")["currencies"].items() for word in names}


def currency_of(text: str) -> str:
    """ISO 4217 code of the currency that the text names, or empty."""
    lowered = text.casefold()
    for sign in "£€$¥":
        if sign in lowered:
            return _currency_words()[sign]
    if re.search(r"\d\s?f\.?$", lowered.strip()):
        return "FRF"
    for word in re.findall(r"[^\W\d_]+\.?", lowered):
        if code := _currency_words().get(word) or _currency_words().get(word.rstrip(".")):
            return code
    return ""


def _basis(cell: str) -> str:
    text = re.sub(r"\d", " ", cell)
    if found_in(text, words("pair")):
        return "pair"
    if found_in(text, words("for_all")):
        return "all"
    return "each" if found_in(text, words("each")) else ""
