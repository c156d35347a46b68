"""Tokens to items: the longest known phrases, numbers, separators, and words that nobody knows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from tasks.reading.text import Token, tokens_of
from tasks.reading.wordbook import Entry, Hit, Wordbook

APOSTROPHES = "'’`´"
ELIDED = ("l", "d", "s", "n", "m", "t", "j", "qu", "dell", "un", "all", "nell")
SHORTEST_COMPOUND = 7
LONGEST_COMPOUND = 40
MOST_DIGITS = 4
TIMES_SIGNS = "×✕✖"
ORDINALS = frozenset(
    {
        "st",
        "nd",
        "rd",
        "th",
        "er",
        "ere",
        "re",
        "eme",
        "e",
        "ra",
        "da",
        "ta",
        "ro",
        "do",
        "ste",
        "de",
        "ter",
        "te",
    }
)
SHORTEST_SIDED = 4
SIDE_LETTERS = {"l": ("left",), "r": ("right",)}
INCHES = frozenset("\"″”'’″")


@dataclass(slots=True)
class Item:
    """One phrase of the text, a number, or one symbol. gap: blanks before it."""

    start: int
    end: int
    raw: str
    key: str
    kinds: frozenset[str] = frozenset()
    hits: tuple[Hit, ...] = ()
    number: int | None = None
    register: str = ""
    adjective: str = ""
    symbol: bool = False
    gap: int = 0

    def is_(self, *kinds: str) -> bool:
        return any(kind in self.kinds for kind in kinds)

    @property
    def unknown(self) -> bool:
        said = self.kinds or self.hits or self.register or self.adjective or self.number is not None
        return not (self.symbol or said)

    @property
    def plural(self) -> bool:
        return bool(self.hits) and self.hits[0].plural

    def means(self, source_id: str) -> bool:
        """Whether the phrase can mean a source."""
        return any(hit.source.id == source_id for hit in self.hits)


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


def lines_of(text: str, wordbook: Wordbook) -> list[Line]:
    """The lines of a text; only newlines break lines, a carriage return before one is blank space."""
    lines, at = [], 0
    for raw in text.split("\n"):
        lines.append(Line(at, at + len(raw), raw, items_of(text, at, at + len(raw), wordbook)))
        at += len(raw) + 1
    return lines


def items_of(text: str, start: int, end: int, wordbook: Wordbook) -> list[Item]:
    """The items of text[start:end]."""
    tokens = tokens_of(text, start, end)
    items: list[Item] = []
    at, before = 0, start
    while at < len(tokens):
        at, found = _items_at(tokens, at, wordbook)
        for item in found:
            item.gap = item.start - before
            item.raw = text[item.start : item.end]
            before = item.end
        items += found
    return items


def _items_at(tokens: Sequence[Token], at: int, wordbook: Wordbook) -> tuple[int, list[Item]]:
    token = tokens[at]
    found = wordbook.longest(tokens, at)
    if _is_elided(tokens, at) and (found is None or found[0] == at + 1 or not found[1].hits):
        return at + 1, [_item(token.start, token.end, token.key, Entry(kinds={"filler", "definite"}))]
    if found is not None:
        after, entry = found
        return after, [_item(token.start, tokens[after - 1].end, token.key, entry)]
    if token.is_word:
        return at + 1, _unknown_word(token, wordbook)
    if token.is_number:
        ordinal = _ordinal(tokens, at)
        return (at + 2, [ordinal]) if ordinal else (at + 1, [_figure(tokens, at)])
    if token.raw in TIMES_SIGNS:
        return at + 1, [Item(token.start, token.end, token.raw, "x", frozenset({"times"}))]
    return at + 1, [Item(token.start, token.end, token.raw, token.key, symbol=True)]


def _is_elided(tokens: Sequence[Token], at: int) -> bool:
    """French and Italian l', d' are articles, not "left"; an English 's says nothing."""
    after = tokens[at + 1] if at + 1 < len(tokens) else None
    before = tokens[at - 1] if at else None
    if tokens[at].key not in ELIDED:
        return False
    if after is not None and after.raw in APOSTROPHES and after.start == tokens[at].end:
        return True
    return (
        tokens[at].key == "s"
        and before is not None
        and before.raw in APOSTROPHES
        and before.end == tokens[at].start
    )


def _figure(tokens: Sequence[Token], at: int) -> Item:
    """A number; stuck to a letter ("A2") it is the code of a socket, before an inch mark a size: both count nothing."""
    token = tokens[at]
    before = tokens[at - 1] if at else None
    code = (
        before is not None
        and before.is_word
        and before.end == token.start
        and before.raw in ("A", "B", "C", "D")
    )
    after = tokens[at + 1] if at + 1 < len(tokens) else None
    size = after is not None and after.raw in INCHES and after.start == token.end
    number = int(token.raw) if len(token.raw) <= MOST_DIGITS and not (code or size) else None
    kinds = frozenset({"code"}) if code or size else frozenset({"figure"})
    return Item(token.start, token.end, token.raw, token.key, kinds, number=number)


def _ordinal(tokens: Sequence[Token], at: int) -> Item | None:
    """ "2nd", "3ra", "2ème": a name, not a count; its number is the key."""
    after = tokens[at + 1] if at + 1 < len(tokens) else None
    stuck = after is not None and after.start == tokens[at].end and after.key in ORDINALS
    if after is None or not stuck or len(tokens[at].raw) > MOST_DIGITS // 2:
        return None
    return Item(tokens[at].start, after.end, "", tokens[at].raw, frozenset({"ordinal"}))


def _item(start: int, end: int, key: str, entry: Entry) -> Item:
    kinds = frozenset(entry.kinds)
    return Item(start, end, "", key, kinds, tuple(entry.hits), entry.number, entry.register, entry.adjective)


def _unknown_word(token: Token, wordbook: Wordbook) -> list[Item]:
    key = token.key
    sided = _sided(token, wordbook)
    if sided:
        return sided
    if not SHORTEST_COMPOUND <= len(key) <= LONGEST_COMPOUND:
        return [Item(token.start, token.end, token.raw, key)]
    if len(key) == len(token.raw):
        split = wordbook.compound(key)
        if split is not None:
            cut, front, tail = split
            middle = token.start + cut
            return [_item(token.start, middle, key[:cut], front), _item(middle, token.end, key[cut:], tail)]
    ending = wordbook.ending(key)
    if ending is not None:
        return [_item(token.start, token.end, key, ending)]
    return [Item(token.start, token.end, token.raw, key)]


def _sided(token: Token, wordbook: Wordbook) -> list[Item]:
    """ "Lgtr", "KeysR": a side stuck to a name."""
    key, raw = token.key, token.raw
    if len(key) != len(raw) or len(key) < SHORTEST_SIDED:
        return []
    at_front = key[0] in SIDE_LETTERS and raw[0].isupper()
    at_end = key[-1] in SIDE_LETTERS and raw[-1].isupper() and raw[-2].islower()
    name = key[1:] if at_front else key[:-1] if at_end else ""
    entry = wordbook.entries.get(name)
    if entry is None or not any(not hit.weak for hit in entry.hits):
        return []
    side = Entry(kinds=set(SIDE_LETTERS[key[0] if at_front else key[-1]]))
    cut = token.start + 1 if at_front else token.end - 1
    front = (key[0], side) if at_front else (name, entry)
    back = (name, entry) if at_front else (key[-1], side)
    return [_item(token.start, cut, *front), _item(cut, token.end, *back)]
