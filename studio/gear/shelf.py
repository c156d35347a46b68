"""Words in order with the things that have them: found whole, begun, in their middle, misspelt. Pure."""

from __future__ import annotations

from array import array
from bisect import bisect, bisect_left
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import reduce
from itertools import accumulate, chain
from operator import or_

from rapidfuzz import process
from rapidfuzz.distance import OSA

EXACT, BEGINS, INSIDE, CLOSE = 100, 90, 70, 60
COMMON = 32
WINDOW = 256
ALL_OF_WINDOW = (1 << WINDOW) - 1
LAST = "\U0010ffff"

Range = tuple[int, int]
"""Words from one number on, before another."""


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
        self.rare = {weight: _Rare(self.words, words) for weight, words in having.items() if words}
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
        if len(asked) > 2 or not asked.isalnum():
            inside += self.letters.containing(asked)
            inside += self._ending(asked)
        begins = [(first + exact, last)] if first + exact < last else []
        found = {EXACT: [(first, first + 1)] if exact else [], BEGINS: begins, INSIDE: inside}
        return {score: ranges for score, ranges in found.items() if ranges}

    def inside(self, asked: str) -> dict[int, list[Range]]:
        """Words of figures, or of figures, signs and letters, that have it in their middle."""
        if len(asked) < 3 and asked.isalnum():
            return {}
        texts = [self.figures, self.mixed] if asked.isdigit() else [self.mixed]
        found = [each for text in texts for each in text.containing(asked)]
        return {INSIDE: found} if found else {}

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
        """Of words that begin with it nothing is said."""
        at = self.text.find(part)
        while at >= 0:
            number = bisect(self.starts, at) - 1
            if at > self.starts[number]:
                yield self.range(number)
            at = self.text.find(part, self.starts[number + 1])


def positions_of(things: int) -> Iterator[int]:
    """In order. The first ones by the window, since most who ask want no more; then byte by byte."""
    base = 0
    for _ in range(COMMON):
        if not things:
            return
        first = (things & -things).bit_length() - 1
        window, base = (things >> first) & ALL_OF_WINDOW, base + first
        while window:
            lowest = window & -window
            yield base + lowest.bit_length() - 1
            window ^= lowest
        things, base = things >> (first + WINDOW), base + WINDOW
    for number, byte in enumerate(things.to_bytes(things.bit_length() // 8 + 1, "little")):
        while byte:
            lowest = byte & -byte
            yield base + 8 * number + lowest.bit_length() - 1
            byte ^= lowest
