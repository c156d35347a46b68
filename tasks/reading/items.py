"""Tokens to items: the longest known phrases, numbers, separators, and words that nobody knows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from tasks.reading.lexicon import Entry, Hit, Lexicon
from tasks.reading.text import Token, tokens_of

APOSTROPHES = "'’`´"
NOTHING: frozenset[str] = frozenset()


@dataclass(slots=True)
class Item:
    """One phrase of the text. gap: blanks before it; apart: it is written off from the item before."""

    start: int
    end: int
    raw: str
    key: str
    kinds: frozenset[str] = NOTHING
    hits: tuple[Hit, ...] = ()
    number: int | None = None
    register: str = ""
    symbol: bool = False
    gap: int = 0
    guessed: str = ""

    def is_(self, *kinds: str) -> bool:
        return any(kind in self.kinds for kind in kinds)

    @property
    def unknown(self) -> bool:
        return not (self.symbol or self.kinds or self.hits or self.register or self.number is not None)

    def source_id(self, source_id: str) -> Hit | None:
        """The hit for one source, if the phrase can mean it."""
        return next((hit for hit in self.hits if hit.source.id == source_id), None)

    @property
    def plural(self) -> bool:
        return bool(self.hits) and self.hits[0].plural


@dataclass(slots=True)
class Line:
    """One line of the text with its items; end excludes the line break."""

    start: int
    end: int
    text: str
    items: list[Item] = field(default_factory=list)

    @property
    def blank(self) -> bool:
        return not self.text.strip()


def lines_of(text: str, lexicon: Lexicon) -> list[Line]:
    """The lines of a text; only newlines break lines, a carriage return before one is blank space."""
    lines, at = [], 0
    for raw in text.split("\n"):
        line = Line(at, at + len(raw), raw)
        line.items = items_of(text, line.start, line.end, lexicon)
        lines.append(line)
        at += len(raw) + 1
    return lines


def items_of(text: str, start: int, end: int, lexicon: Lexicon) -> list[Item]:
    """The items of text[start:end]."""
    tokens = tokens_of(text, start, end)
    items: list[Item] = []
    at, before = 0, start
    while at < len(tokens):
        after, found = _items_at(tokens, at, lexicon)
        for item in found:
            item.gap = item.start - before
            item.raw = text[item.start : item.end]
            before = item.end
        items += found
        at = after
    return items


def _items_at(tokens: Sequence[Token], at: int, lexicon: Lexicon) -> tuple[int, list[Item]]:
    token = tokens[at]
    if _elided(tokens, at):
        return at + 1, [_item(token, token, Entry(kinds={"filler"}))]
    found = lexicon.longest(tokens, at)
    if found is not None:
        after, entry = found
        last = tokens[after - 1]
        return after, [_item(token, last, entry)]
    if token.is_word:
        return at + 1, _unknown_word(token, lexicon)
    if token.is_number:
        number = int(token.raw) if len(token.raw) <= 4 else None
        return at + 1, [
            Item(token.start, token.end, token.raw, token.key, frozenset({"figure"}), number=number)
        ]
    return at + 1, [Item(token.start, token.end, token.raw, token.key, symbol=True)]


def _elided(tokens: Sequence[Token], at: int) -> bool:
    """French and Italian l', d' are articles, not "left" or "R"."""
    return (
        tokens[at].key in ("l", "d", "s", "n")
        and at + 1 < len(tokens)
        and tokens[at + 1].raw in APOSTROPHES
        and tokens[at + 1].start == tokens[at].end
    )


def _item(first: Token, last: Token, entry: Entry) -> Item:
    return Item(
        first.start,
        last.end,
        "",
        first.key,
        frozenset(entry.kinds),
        tuple(entry.hits),
        entry.number,
        entry.register,
    )


def _unknown_word(token: Token, lexicon: Lexicon) -> list[Item]:
    key = token.key
    if len(key) >= 7 and len(key) == len(token.raw):
        split = lexicon.compound(key)
        if split is not None:
            cut, front, tail = split
            return [_slice(token, 0, cut, front), _slice(token, cut, len(key), tail)]
    if len(key) >= 7:
        ending = lexicon.ending(key)
        if ending is not None:
            return [_item(token, token, ending)]
    return [Item(token.start, token.end, token.raw, key)]


def _slice(token: Token, start: int, end: int, entry: Entry) -> Item:
    return Item(
        token.start + start,
        token.start + end,
        "",
        token.key[start:end],
        frozenset(entry.kinds),
        tuple(entry.hits),
        entry.number,
        entry.register,
    )
