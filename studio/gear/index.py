"""What a query may mean: folded words to the things that have them, tolerant of misspelling. Pure.

A set of things is a whole number with a bit for each: uniting, intersecting and counting fifty thousand things
takes microseconds, so that a query costs what its words cost and not what is found.
"""

from __future__ import annotations

from array import array
from bisect import bisect, bisect_left
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, reduce
from itertools import accumulate, chain, islice
from operator import or_

from rapidfuzz import process
from rapidfuzz.distance import OSA

from studio.gear.words import joined, pieces, plain

EXACT, BEGINS, INSIDE, CLOSE = 100, 90, 70, 60
OF_NAME, OF_THING, OF_REMARK = 25, 0, -25
FOUND_AT_MOST = 5000
COMMON = 32
LAST = "\U0010ffff"

Said = tuple[int, str, Sequence[int]]
"""How much a text counts for (OF_NAME, OF_THING, OF_REMARK), the text, the positions of the things that say it."""
Range = tuple[int, int]
"""Words from one number on, before another."""
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


class Shelf:
    """Words in order, each with the things that have it: of a part of the words all things are read in one go."""

    def __init__(self, having: Mapping[int, Mapping[str, list[int]]], size: int) -> None:
        """having: what a word counts for, then the word, to the positions of things; size: how many things."""
        self.size = size
        self.words = sorted({word for words in having.values() for word in words} - {""})
        self.backwards = sorted((word[::-1], number) for number, word in enumerate(self.words))
        numbered = [(word, number) for number, word in enumerate(self.words)]
        self.letters = _Text([each for each in numbered if each[0].isalpha()])
        self.figures = _Text([each for each in numbered if each[0].isdigit()])
        self.mixed = _Text([each for each in numbered if not each[0].isalpha() and not each[0].isdigit()])
        self.rare = {weight: _Rare(self.words, words) for weight, words in having.items()}
        self.common: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for number, word in enumerate(self.words):
            for weight, words in having.items():
                if len(positions := words.get(word, ())) > COMMON:
                    self.common[number].append((weight, set_of(positions, self.size)))
        self.common_words = list(self.common)

    def like(self, asked: str) -> dict[int, list[Range]]:
        """Words that are, begin with or contain the one asked for, by how well.

        A single figure is only itself: the 3 of a channel is not the beginning of a serial number. Of three signs
        or more also the end of a word is meant, of letters also the middle.
        """
        first, last = bisect_left(self.words, asked), bisect_left(self.words, asked + LAST)
        exact = first < last and self.words[first] == asked
        if len(asked) == 1 and asked.isdigit():
            return {EXACT: [(first, first + 1)]} if exact else {}
        inside: list[Range] = []
        if len(asked) > 1 or not asked.isalnum():
            inside += self.letters.containing(asked)
        if len(asked) > 2:
            inside += self._ending(asked)
        return {
            EXACT: [(first, first + 1)] if exact else [],
            BEGINS: [(first + exact, last)] if first + exact < last else [],
            INSIDE: inside,
        }

    def inside(self, asked: str) -> dict[int, list[Range]]:
        """Words of figures, or of figures, signs and letters, that have it in their middle."""
        if len(asked) < 3 and asked.isalnum():
            return {}
        texts = [self.figures, self.mixed] if asked.isdigit() else [self.mixed]
        return {INSIDE: [found for text in texts for found in text.containing(asked)]}

    def nearly(self, asked: str) -> dict[int, list[Range]]:
        """Misspelt: a slip in three letters, two in six; the nearest. What holds a figure is right or wrong."""
        most = min(len(asked) // 3, 3) if asked.isalpha() else 0
        for slips in range(1, most + 1):
            alike = {number: self.letters.words[number] for number in self.letters.sharing(set(asked), slips)}
            near = process.extract(
                asked, alike, scorer=OSA.distance, score_cutoff=slips, limit=None, processor=None
            )
            if near:
                return {CLOSE - 10 * slips: [self.letters.range(number) for _, _, number in near]}
        return {}

    def things(self, ranges: Sequence[Range]) -> Iterator[tuple[int, int]]:
        """What the words count for, with the things that have one of them."""
        for weight, rare in self.rare.items():
            if positions := rare.positions(ranges):
                yield weight, set_of(positions, self.size)
        for first, last in ranges:
            numbers = self.common_in(first, last) if last - first > 1 else (first,)
            for number in numbers:
                yield from self.common.get(number, ())

    def common_in(self, first: int, last: int) -> Sequence[int]:
        return self.common_words[bisect_left(self.common_words, first) : bisect_left(self.common_words, last)]

    def _ending(self, asked: str) -> Iterator[Range]:
        end = asked[::-1]
        for at in range(bisect_left(self.backwards, (end,)), bisect_left(self.backwards, (end + LAST,))):
            number = self.backwards[at][1]
            yield number, number + 1


def set_of(positions: Iterable[int], size: int) -> int:
    """As a whole number with the bits of these positions."""
    bits = bytearray(size // 8 + 1)
    for position in positions:
        bits[position >> 3] |= 1 << (position & 7)
    return int.from_bytes(bits, "little")


class _Rare:
    """Positions of the things of all rare words, one word after the other."""

    def __init__(self, order: Sequence[str], having: Mapping[str, list[int]]) -> None:
        few = [each if len(each := having.get(word, [])) <= COMMON else [] for word in order]
        self.flat = array("L", chain.from_iterable(few))
        self.starts = array("L", accumulate(map(len, few), initial=0))

    def positions(self, ranges: Iterable[Range]) -> array[int]:
        found = array("L")
        for first, last in ranges:
            start, end = self.starts[first], self.starts[last]
            if start < end:
                found += self.flat[start:end]
        return found


class _Text:
    """Words, with their numbers, in one string: finding a part of one is one pass over plain memory."""

    def __init__(self, words: Sequence[tuple[str, int]]) -> None:
        self.words = [word for word, _ in words]
        self.numbers = [number for _, number in words]
        self.text = "\n".join(self.words)
        self.starts = list(accumulate((len(word) + 1 for word in self.words), initial=0))
        having: dict[str, list[int]] = defaultdict(list)
        for number, word in enumerate(self.words):
            for sign in set(word):
                having[sign].append(number)
        self.having = {sign: set_of(numbers, len(words)) for sign, numbers in having.items()}

    def sharing(self, signs: Iterable[str], but: int) -> Iterator[int]:
        """Numbers of the words that have all these signs, or all but so many: no slip takes away more than one."""
        lacking = [(1 << len(self.words)) - 1, *[0] * but]
        for sign in signs:
            having = self.having.get(sign, 0)
            fewer = [0, *(words & ~having for words in lacking)]
            lacking = [words & having | less for words, less in zip(lacking, fewer, strict=False)]
        return positions_of(reduce(or_, lacking))

    def range(self, at: int) -> Range:
        return self.numbers[at], self.numbers[at] + 1

    def containing(self, part: str) -> Iterator[Range]:
        at = self.text.find(part)
        while at >= 0:
            number = bisect(self.starts, at) - 1
            yield self.range(number)
            at = self.text.find(part, self.starts[number + 1])


class Index:
    """Immutable once built. entries in the order in which equally good ones are found."""

    def __init__(self, entries: Iterable[Entry], said: Iterable[Said]) -> None:
        self.entries = list(entries)
        self.by_name: dict[str, list[Entry]] = defaultdict(list)
        having, run_together = _having(), _having()
        for position, entry in enumerate(self.entries):
            self.by_name[plain(joined(entry.name))].append(entry)
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
        asked = pieces(query)
        if not asked:
            return [], 0
        met = cache(self._met)
        named, levels = self._named(asked), levels_of(map(met, asked))
        rest, number = channel_number(asked)
        alike = (Hit(entry.pk, entry.name) for entry in self._best(levels))
        if not levels and rest:
            levels = levels_of(map(met, rest))
            alike = (Hit(e.pk, e.name, number) for e in self._best(levels) if _has(e, number))
        names = {(hit.pk, hit.channel) for hit in named}
        others = (hit for hit in alike if (hit.pk, hit.channel) not in names)
        hits = [*named, *islice(others, max(most - len(named), 0))]
        return hits, max(sum(level.bit_count() for level in levels.values()), len(hits))

    def _named(self, asked: Sequence[str]) -> list[Hit]:
        """The thing, or channel of a unit, that this is the very name of."""
        same = [(entry, None) for entry in self._called("".join(asked))]
        rest, number = channel_number(asked)
        parts = [(entry, number) for entry in self._called("".join(rest)) if _has(entry, number)]
        named = [*same, *parts]
        return [Hit(entry.pk, entry.name, number, exact=len(named) == 1) for entry, number in named]

    def _called(self, name: str) -> list[Entry]:
        """Things of this name; where none is written just so, those that differ in leading zeros only."""
        alike = self.by_name.get(plain(name), [])
        return [entry for entry in alike if joined(entry.name) == name] or alike

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
            if any(ranges for _, like in looked for ranges in like.values()):
                return looked
        return []

    def _best(self, levels: Levels) -> Iterator[Entry]:
        for score in sorted(levels, reverse=True):
            for position in positions_of(levels[score]):
                yield self.entries[position]


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


def positions_of(things: int) -> Iterator[int]:
    """In order. The first ones one by one, since most who ask want no more; then byte by byte."""
    for _ in range(COMMON):
        if not things:
            return
        lowest = things & -things
        yield lowest.bit_length() - 1
        things ^= lowest
    for number, byte in enumerate(things.to_bytes(things.bit_length() // 8 + 1, "little")):
        while byte:
            lowest = byte & -byte
            yield 8 * number + lowest.bit_length() - 1
            byte ^= lowest


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
