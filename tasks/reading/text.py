"""Text to tokens with offsets, folded so that case, accents and joints don't matter."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

TOKEN = re.compile(r"(?:[^\W\d_][\u0300-\u036f]*)+|\d+|\S|\t")
LIGATURES = str.maketrans({"ß": "ss", "œ": "oe", "æ": "ae", "ø": "o", "ł": "l", "đ": "d"})
TYPED = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue"})
JOINTS = frozenset("-‐‑'’`´.\u00ad")
KEPT = frozenset("/+&#")


@dataclass(frozen=True, slots=True)
class Token:
    """A word, a number or one symbol; start and end are offsets in the whole text."""

    start: int
    end: int
    key: str
    raw: str

    @property
    def is_word(self) -> bool:
        return self.raw[0].isalpha()

    @property
    def is_number(self) -> bool:
        return self.raw[0].isdecimal()


@lru_cache(maxsize=20_000)
def fold(word: str) -> str:
    """Lower case without accents: "Flügel" and "flugel" fold alike."""
    plain = unicodedata.normalize("NFKD", word.casefold().translate(LIGATURES))
    return "".join(char for char in plain if not unicodedata.combining(char))


def tokens_of(text: str, start: int, end: int) -> list[Token]:
    """The tokens of text[start:end]."""
    return [
        Token(match.start(), match.end(), fold(match.group()), match.group())
        for match in TOKEN.finditer(text, start, end)
    ]


def key_of(phrase: str) -> str:
    """The key under which a phrase is looked up: its folded tokens run together, / + & kept."""
    return "".join(token.key for token in tokens_of(phrase, 0, len(phrase)) if counts(token))


def spaced_key(phrase: str) -> str:
    """As key_of, with a blank between tokens: tells "o h" from "oh"."""
    return " ".join(token.key for token in tokens_of(phrase, 0, len(phrase)) if counts(token))


def counts(token: Token) -> bool:
    return token.is_word or token.is_number or token.raw in KEPT


def umlaut_variants(phrase: str) -> tuple[str, ...]:
    """The phrase, and how it is typed without umlauts (ä as ae)."""
    plain = phrase.translate(TYPED)
    return (phrase,) if plain == phrase else (phrase, plain)
