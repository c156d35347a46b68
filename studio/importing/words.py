"""Words of spreadsheets in six languages: how they are folded, and the lists of them that stand in data files."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable
from functools import cache, lru_cache
from importlib.resources import files
from typing import Any

WITHOUT_MARKS = str.maketrans({"ß": "ss", "ø": "o", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d", "’": "'"})
LONG_ENOUGH_INSIDE = 5
LONGEST_PHRASE = 4  # words


@lru_cache(maxsize=8192)
def fold(text: str) -> str:
    """Without case, accents and punctuation, one blank between words: “Serien-Nr.” is “serien nr”."""
    plain = unicodedata.normalize("NFKD", text.casefold().translate(WITHOUT_MARKS))
    letters = "".join(char for char in plain if not unicodedata.combining(char))
    return " ".join(re.findall(r"[^\W_]+", letters))


@cache
def data(name: str) -> dict[str, Any]:
    text = files("studio.importing").joinpath("data", f"{name}.toml").read_text("utf-8")
    return tomllib.loads(text)


@cache
def words(name: str) -> frozenset[str]:
    """A list of words.toml, folded. A dot leads into a group: “section.retired”."""
    found: Any = data("words")
    for part in name.split("."):
        found = found[part]
    return frozenset(fold(word) if word[-1] != "*" else fold(word) + "*" for word in found)


@cache
def _pattern(phrases: frozenset[str], inside: bool) -> re.Pattern[str]:
    """The longest of the phrases that stands in a text as words; long ones inside a word too, where allowed."""
    parts = []
    for phrase in sorted(phrases, key=len, reverse=True):
        body = re.escape(phrase.rstrip("*"))
        loose = inside and len(phrase) >= LONG_ENOUGH_INSIDE and " " not in phrase
        parts.append(body if loose else rf"(?<!\w){body}" + (r"\w*" if phrase.endswith("*") else r"(?!\w)"))
    return re.compile("|".join(parts) or r"(?!)")


def found_in(text: str, phrases: Iterable[str], inside: bool = False) -> str:
    """The longest phrase that the text holds, folded; empty if none."""
    return next(iter(all_found_in(text, phrases, inside)), "")


def all_found_in(text: str, phrases: Iterable[str], inside: bool = False) -> tuple[str, ...]:
    """The phrases that the text holds, folded, the longest first."""
    return _hits(fold(text), phrases if isinstance(phrases, frozenset) else frozenset(phrases), inside)


@lru_cache(maxsize=16384)
def _hits(folded: str, phrases: frozenset[str], inside: bool) -> tuple[str, ...]:
    return tuple(sorted(_pattern(phrases, inside).findall(folded), key=len, reverse=True))


def begins_with(text: str, phrases: frozenset[str]) -> bool:
    found = fold(text).split()[:LONGEST_PHRASE]
    return any(" ".join(found[:number]) in phrases for number in range(1, len(found) + 1))
