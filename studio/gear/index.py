"""What a query may mean: folded words to the things that have them, tolerant of misspelling. Pure.

A set of things is a whole number with a bit for each: uniting, intersecting and counting fifty thousand things
takes microseconds, so that a query costs what its words cost and not what is found.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from heapq import merge
from itertools import islice

from studio.gear.shelf import Range, Shelf, positions_of
from studio.gear.words import joined, pieces, plain

OF_NAME, OF_THING, OF_REMARK = 25, 0, -25
FOUND_AT_MOST = 5000

Said = tuple[int, str, Sequence[int]]
"""How much a text counts for (OF_NAME, OF_THING, OF_REMARK), the text, the positions of the things that say it."""
Levels = dict[int, int]
"""A score to the set of the things that have it."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A thing as the index knows it. number_of_channels is 0 for a thing without any; name is a tag, of counted
    stock what it is called."""

    pk: int
    name: str
    number_of_channels: int = 0


@dataclass(frozen=True, slots=True)
class Hit:
    """exact: the query names this unit, or this channel of it, and nothing else."""

    pk: int
    tag: str
    channel: int | None = None
    exact: bool = False


class Index:
    """Immutable once built. entries in the order in which equally good ones are found."""

    def __init__(self, entries: Iterable[Entry], said: Iterable[Said]) -> None:
        self.entries = list(entries)
        self.by_name: dict[str, list[int]] = defaultdict(list)
        having, run_together = _having(), _having()
        for position, entry in enumerate(self.entries):
            self.by_name[plain(joined(entry.name))].append(position)
            _add(having, run_together, OF_NAME, entry.name, [position])
        for weight, text, positions in said:
            _add(having, run_together, weight, text, positions)
        self.words = Shelf(having, len(self.entries))
        self.run_together = Shelf(run_together, len(self.entries))

    def find(self, query: str, most: int = FOUND_AT_MOST) -> list[Hit]:
        """Best first: what the query names, then what it may mean. Empty for a query without a word."""
        return self.found(query, most)[0]

    def found(self, query: str, most: int) -> tuple[list[Hit], int]:
        """The hits, and how many there would be without a bound."""
        return found_in([(self, 0)], query, most)

    def meant(self, query: str, hidden: int = 0) -> Meant:
        """What the query may mean; hidden: the set of the things that are left out."""
        asked = pieces(query)
        if not asked or not self.entries:
            return Meant()
        met = cache(self._met)
        rest, number = channel_number(asked)
        same, parts = (
            [each for each in named if not hidden >> each & 1] for named in self._named(asked, rest, number)
        )
        levels, channel = _but(levels_of(map(met, asked)), hidden), None
        if not levels and rest:
            levels, channel = _but(levels_of(map(met, rest)), hidden), number
        return Meant(self.entries, same, parts, number, levels, channel)

    def _named(self, asked: Sequence[str], rest: Sequence[str], number: int) -> tuple[list[int], list[int]]:
        """The things that this is the very name of, and those of which it names a channel."""
        parts = [at for at in self._called("".join(rest)) if _has(self.entries[at], number)]
        return self._called("".join(asked)), parts

    def _called(self, name: str) -> list[int]:
        """Things of this name; where none is written just so, those that differ in leading zeros only."""
        alike = self.by_name.get(plain(name), [])
        return [at for at in alike if joined(self.entries[at].name) == name] or alike

    def _met(self, word: str) -> Levels:
        """Things by how well their best word meets the one asked for; each once."""
        sets: Levels = defaultdict(int)
        for shelf, like in self._like(word):
            for score, ranges in like.items():
                for weight, things in shelf.things(ranges):
                    sets[score + weight] |= things
        met, seen = {}, 0
        for score in sorted(sets, reverse=True):
            if things := sets[score] & ~seen:
                met[score] = things
                seen |= things
        return met

    def _like(self, word: str) -> list[tuple[Shelf, dict[int, list[Range]]]]:
        """Names run together (“rb04” of RB-04) are looked at where that is typed, or nothing else is like it."""
        both = [self.words, self.run_together]
        once = both[:1] if word.isalpha() or word.isdigit() else both
        tries: list[tuple[list[Shelf], Callable[[Shelf, str], dict[int, list[Range]]]]] = [
            (once, Shelf.like),
            (both, Shelf.like),
            (both[:1] if word.isalpha() else both, Shelf.inside),
            (both[:1], Shelf.nearly),
            (both[1:], Shelf.nearly),
        ]
        for shelves, look in tries:
            looked = [(shelf, look(shelf, word)) for shelf in shelves]
            if any(like for _, like in looked):
                return looked
        return []


@dataclass(frozen=True, slots=True)
class Meant:
    """What a query may mean among entries: positions of what it names, of what it names a channel of (by number), and
    the rest by score; channel: the one that is meant of the rest, None for the thing as a whole."""

    entries: Sequence[Entry] = ()
    same: Sequence[int] = ()
    parts: Sequence[int] = ()
    number: int = 0
    levels: Levels = field(default_factory=dict)
    channel: int | None = None

    def named(self) -> Iterator[tuple[Entry, int | None]]:
        yield from ((self.entries[at], None) for at in self.same)
        yield from ((self.entries[at], self.number) for at in self.parts)

    def alike(self) -> Iterator[tuple[int, str, Hit]]:
        """Best first: the score below nothing, the name, the hit."""
        for score in sorted(self.levels, reverse=True):
            for position in positions_of(self.levels[score]):
                entry = self.entries[position]
                if self.channel is None or _has(entry, self.channel):
                    yield -score, entry.name, Hit(entry.pk, entry.name, self.channel)


def found_in(layers: Iterable[tuple[Index, int]], query: str, most: int) -> tuple[list[Hit], int]:
    """The hits of several indexes, each with the set of its things that are left out, as if they were one."""
    meant = [index.meant(query, hidden) for index, hidden in layers]
    pairs = [pair for each in meant for pair in each.named()]
    pairs.sort(key=lambda pair: pair[1] is not None)
    named = [Hit(entry.pk, entry.name, number, exact=len(pairs) == 1) for entry, number in pairs]
    names = {(hit.pk, hit.channel) for hit in named}
    if any(each.levels and each.channel is None for each in meant):  # then no number is a channel's
        meant = [each for each in meant if each.channel is None]
    alike = (hit for _, _, hit in merge(*(each.alike() for each in meant), key=lambda row: row[:2]))
    others = (hit for hit in alike if (hit.pk, hit.channel) not in names)
    hits = [*named, *islice(others, max(most - len(named), 0))]
    total = sum(level.bit_count() for each in meant for level in each.levels.values())
    return hits, max(total, len(hits))


def _but(levels: Levels, hidden: int) -> Levels:
    if not hidden:
        return levels
    left = {score: things & ~hidden for score, things in levels.items()}
    return {score: things for score, things in left.items() if things}


def levels_of(met: Iterable[Levels]) -> Levels:
    """Things that have something like every word, by the sum of how well each word is met."""
    totals: Levels | None = None
    for levels in met:
        both: Levels = defaultdict(int)
        for total, things in (totals or {}).items():
            for score, others in levels.items():
                if common := things & others:
                    both[total + score] |= common
        totals = levels if totals is None else both
        if not totals:
            break
    return totals or {}


def _having() -> dict[int, dict[str, list[int]]]:
    return {weight: defaultdict(list) for weight in (OF_NAME, OF_THING, OF_REMARK)}


def _add(
    having: dict[int, dict[str, list[int]]],
    run_together: dict[int, dict[str, list[int]]],
    weight: int,
    text: str,
    positions: Sequence[int],
) -> None:
    """What things say, word by word, and all of it as one word where that is another."""
    words = pieces(text)
    for word in dict.fromkeys(words):
        having[weight][word].extend(positions)
    if len(words) > 1 and weight != OF_REMARK:
        run_together[weight]["".join(words)].extend(positions)


def channel_number(asked: Sequence[str]) -> tuple[list[str], int]:
    """What stands before a channel number, and it: “oak 3”, “oak channel 3”, “oak ch3”; else [], 0."""
    *rest, last = asked
    figures = last.removeprefix("ch")
    if rest and rest[-1] in {"ch", "channel", "input"}:
        rest = rest[:-1]
    if not (figures.isascii() and figures.isdigit() and len(figures) <= 3):
        return [], 0
    return rest, int(figures)


def _has(entry: Entry, number: int) -> bool:
    return 1 <= number <= entry.number_of_channels
