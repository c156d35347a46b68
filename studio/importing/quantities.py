"""How many things a row describes, and the tags and serials that one cell holds for them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from studio.importing.table import looks_like_a_formula
from studio.importing.words import data, fold, found_in, words

PLAIN = re.compile(r"^\(?\s*(\d{1,4})(?:[.,]0+)?\s*\)?$")
TIMES = re.compile(r"^[x×]\s?(\d{1,4})$|^(\d{1,4})\s?[x×]$", re.IGNORECASE)
WITH_WORD = re.compile(r"^(\d{1,4})\s?([^\W\d_]+)\.?$")
ROUGH = re.compile(r"^(?:~|≈|±)\s?(\d{1,4})$|^(\d{1,4})\s?\+$")
BEFORE = re.compile(r"^(\d{1,3})\s?[x×]\s+(?=[^\W\d_])", re.IGNORECASE)
AFTER = re.compile(
    r"\s+\(?[x×](\d{1,3})\)?$|(?<=\D)\s+\(?[x×]\s(\d{1,3})\)?$|\((\d{1,3})\s?(?:[x×]|off|pcs|stk\.?|stück)\)"
    r"|(?<=\D)\s(\d{1,3})[x×]$",
    re.IGNORECASE,
)
COUNT_PERHAPS = re.compile(
    r"^(\d{1,3})\s+(?!(?:pin|pol|ch|chan\w*|kan\w*|voies?|can\w*|inch|zoll|pouces?|point\w*|way|strings?|saitig\w*|track|"
    r"spur|piste\w*|band|bit|ohm|fach|kanaals?|m|mm|cm|w|watt|v|volt|db|k?hz|u|he|inputs?|outputs?|ft|feet)\b)"
    r"(?=[^\W\d_]{2,})",
    re.IGNORECASE,
)
RANGE = re.compile(r"^(.*?)(\d+)\s*(?:-|–|bis|to|à|t/m|au|al|thru|through|\.\.\.?|…)\s*(.*?)(\d+)$")
FROM_TO = re.compile(r"\w\s+(?:bis|to|à|t/m|au|al|thru|through)\s+\w")
LONGEST_RUN = 500
BETWEEN = re.compile(r"\s*(?:[,;&+\n]|\s/\s|/|\bund\b|\band\b|\bet\b|\by\b|\ben\b)\s*")
OWN_NUMBER = re.compile(r"^(?=.*\d)\S{3,}$")
NUMBERED = re.compile(
    r"^(?:(?:s/?n|ser(?:ial)?|no|nr|n|num)(?:[.:°º]\s*|\s+)(?:(?:no|nr)\.?\s*)?#?|#)\s*(?=\S*\d)",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Quantity:
    """number None: the cell doesn't say. said: whether a number stood there at all. about: not exact."""

    number: int | None
    said: bool = True
    about: bool = False
    container: bool = False


def read_quantity(cell: str) -> Quantity | None:
    """None: this is no quantity at all. A blank cell is one thing, not said."""
    text = cell.strip()
    if not text or text in {"-", "–", "—"}:
        return Quantity(1, said=False)
    if match := PLAIN.match(text) or TIMES.match(text):
        return Quantity(int(next(group for group in match.groups() if group)))
    if match := ROUGH.match(text):
        return Quantity(int(match[1] or match[2]), about=True)
    if fold(text) in words("pair"):
        return Quantity(2)
    if text in {"?", "??", "???"} or fold(text) in words("no_number"):
        return Quantity(None)
    return Quantity(number) if (number := _numbers().get(fold(text))) else _worded(text)


@cache
def _numbers() -> dict[str, int]:
    return {word: int(number) for number, found in data("words")["numbers"].items() for word in found}


def _worded(text: str) -> Quantity | None:
    rough = found_in(text, words("about"))
    if rough and (figures := re.search(r"\d+", text)):
        return Quantity(int(figures[0]), about=True)
    match = WITH_WORD.match(text)
    if not match:
        return None
    number, word = int(match[1]), fold(match[2])
    if word in words("pair"):
        return Quantity(2 * number)
    if word in words("dozen"):
        return Quantity(12 * number)
    if word in words("pieces"):
        return Quantity(number)
    return Quantity(number, container=True) if word in words("box") else None


def quantity_in_words(text: str) -> tuple[int | None, str]:
    """“3x FL-12”, “FL-12 (x3)”, “SW-9 pair”: how many, and the text without it. “16x4” and “8ch” are no quantity."""
    if match := BEFORE.match(text):
        return int(match[1]), text[match.end() :].strip()
    if match := AFTER.search(text):
        number = next(group for group in match.groups() if group)
        return int(number), (text[: match.start()] + " " + text[match.end() :]).strip()
    if match := re.search(
        r"\s*\(?\b(?:matched |stereo )?(pair|pr|paar|paire|pareja|coppia)\b\.?\)?$", text, re.IGNORECASE
    ):
        return (2, text[: match.start()].strip()) if match.start() else (None, text)
    return None, text


def serials_in(cell: str, number: int | None) -> list[str]:
    """The serials of one cell, as written, zeros kept. Words for “none” give none. number: things in the row."""
    text = cell.strip()
    if (
        not re.search(r"\w", text)
        or fold(text) in words("no_serial")
        or (not re.search(r"\d", text) and len(text) > 12)
    ):
        return []
    parts = parts_of(text, number)
    return [NUMBERED.sub("", part) for part in parts if fold(part) not in words("no_serial")]


def bare_serial(text: str) -> str:
    """Without “S/N” or “#” in front of it, and in one case."""
    return NUMBERED.sub("", text).casefold()


def parts_of(text: str, number: int | None) -> list[str]:
    """Cut where it gives as many parts as there are things; “70/12” of one thing stays whole."""
    if number == 1:
        return [text]
    if run := _run(text, number):
        return run
    by_sign = [part for part in BETWEEN.split(text) if part]
    by_blank = [part for part in re.split(r"[\s,;/&+]+", text) if part]
    for parts in (by_sign, by_blank):
        if number and len(parts) == number:
            return parts
    if number is None and len(by_sign) > 1 and all(OWN_NUMBER.match(part) for part in by_sign):
        return by_sign if not looks_like_a_formula(text) else [text]
    return by_sign if number and len(by_sign) > 1 else [text]


def _run(text: str, number: int | None) -> list[str]:
    """“004-007” of four things is 004, 005, 006, 007; the last may be shortened, as in “2231-34”."""
    match = RANGE.match(text)
    if match and number is None and FROM_TO.search(text):
        number = int(match[4]) - int(match[2]) + 1
    if not match or not number or number > LONGEST_RUN or (match[3] and match[3] != match[1]):
        return []
    first, last = match[2], match[4]
    if len(last) < len(first):
        last = first[: len(first) - len(last)] + last
    if int(last) - int(first) + 1 != number:
        return []
    return [f"{match[1]}{value:0{len(first)}d}" for value in range(int(first), int(last) + 1)]
