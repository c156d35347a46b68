"""What a query may mean: folded words to the things that have them, tolerant of misspelling. Pure.

Most words of a thing are those of its model and place, which it shares with others. They are looked up once for
each group of things that share them, so that a query costs what its words and groups cost, not what is found.
"""

from __future__ import annotations

from bisect import bisect, bisect_left
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate, chain

from rapidfuzz import process
from rapidfuzz.distance import OSA

from studio.gear.words import joined, pieces, plain

EXACT, BEGINS, INSIDE, CLOSE = 100, 90, 70, 60
TAG_BONUS = 25
FOUND_AT_MOST = 5000

Scores = dict[int, int]


@dataclass(frozen=True, slots=True)
class Entry:
    """A thing as the index knows it. group: the number of those with whom it shares its other words.

    number_of_channels is 0 for a thing without any; name is a tag, or what counted stock is called.
    """

    pk: int
    name: str
    serial: str
    number_of_channels: int
    group: int


@dataclass(frozen=True, slots=True)
class Hit:
    """exact: the query names this unit, or this channel of it, and nothing else."""

    pk: int
    tag: str
    channel: int | None = None
    exact: bool = False


class Words:
    """A vocabulary. `text` is all of it in one string: finding a part of a word is one pass over plain memory."""

    def __init__(self, words: Iterable[str], inside_from: int) -> None:
        """inside_from: how many letters there must be before they are looked for in the middle of words."""
        self.words = sorted(set(words) - {""})
        self.text = "\n".join(self.words)
        self.starts = list(accumulate((len(word) + 1 for word in self.words), initial=0))
        self.of_letters = [word for word in self.words if word.isalpha()]
        self.inside_from = inside_from

    def like(self, asked: str) -> Scores:
        """Words (by their place in `words`) that are, begin with or contain the one asked for, and how well.

        A single figure is only itself: the 3 of a channel is not the beginning of a serial number.
        """
        first = bisect_left(self.words, asked)
        if len(asked) == 1 and asked.isdigit():
            return {first: EXACT} if self.words[first : first + 1] == [asked] else {}
        found = self._containing(asked)
        for number in range(first, len(self.words)):
            word = self.words[number]
            if not word.startswith(asked):
                break
            found[number] = EXACT if word == asked else BEGINS
        return found

    def _containing(self, asked: str) -> Scores:
        if asked.isalnum() and len(asked) < self.inside_from:
            return {}
        found: Scores = {}
        at = self.text.find(asked)
        while at >= 0:
            number = bisect(self.starts, at) - 1
            found[number] = INSIDE
            at = self.text.find(asked, self.starts[number + 1])
        return found

    def nearly(self, asked: str) -> Scores:
        """Misspelt: a slip in three letters, two in six. What holds a figure or a sign is right or wrong."""
        slips = min(len(asked) // 3, 3)
        if not slips or not asked.isalpha():
            return {}
        near = process.extract(
            asked, self.of_letters, scorer=OSA.distance, score_cutoff=slips, limit=None, processor=None
        )
        return {bisect_left(self.words, word): CLOSE - 10 * int(distance) for word, distance, _ in near}


class Index:
    """Immutable once built. entries in the order in which equally good ones are found."""

    def __init__(self, entries: Iterable[Entry], groups: Mapping[int, Iterable[str]]) -> None:
        self.entries = list(entries)
        self.members: dict[int, list[int]] = defaultdict(list)
        self.by_name: dict[str, list[Entry]] = defaultdict(list)
        owners: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for position, entry in enumerate(self.entries):
            self.members[entry.group].append(position)
            self.by_name[plain(joined(entry.name))].append(entry)
            for word, bonus in own_words(entry).items():
                owners[word].append((position, bonus))
        sharers: dict[str, list[int]] = defaultdict(list)
        for group in self.members:
            for word in set(groups.get(group, ())):
                sharers[word].append(group)
        self.own = Words(owners, inside_from=3)
        self.shared = Words(sharers, inside_from=2)
        self.owners = [owners[word] for word in self.own.words]
        self.sharers = [sharers[word] for word in self.shared.words]

    def find(self, query: str, most: int = FOUND_AT_MOST) -> list[Hit]:
        """Best first: what the query names, then what it may mean. Empty for a query without a word."""
        asked = pieces(query)
        if not asked:
            return []
        seen: dict[tuple[int, int | None], Hit] = {}
        for hit in chain(self._named(asked), self._alike(asked)):
            seen.setdefault((hit.pk, hit.channel), hit)
            if len(seen) >= most:
                break
        return list(seen.values())

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

    def _alike(self, asked: Sequence[str]) -> Iterator[Hit]:
        """Things that have something like every word; if none has, channels of things that have."""
        none = True
        for entry in self._ranked(asked):
            none = False
            yield Hit(entry.pk, entry.name)
        if none:
            rest, number = channel_number(asked)
            yield from (
                Hit(entry.pk, entry.name, number) for entry in self._ranked(rest) if _has(entry, number)
            )

    def _ranked(self, asked: Sequence[str]) -> Iterator[Entry]:
        scores = [self._scores(word) for word in asked]
        if not scores:
            return
        owned = self._owned(scores)
        whole = {
            group: sum(groups[group] for _, groups in scores)
            for group in min((groups for _, groups in scores), key=len)
            if all(group in groups for _, groups in scores)
        }
        ranks: dict[int, list[Sequence[int]]] = defaultdict(list)
        for position in sorted(owned):
            ranks[owned[position]].append((position,))
        for group in sorted(whole):
            ranks[whole[group]].append(self.members[group])
        for rank in sorted(ranks, reverse=True):
            for positions in ranks[rank]:
                alone = len(positions) == 1 and owned.get(positions[0]) == rank
                yield from (self.entries[p] for p in positions if alone or p not in owned)

    def _scores(self, word: str) -> tuple[Scores, Scores]:
        """How well things, by their position, and groups match one word that was asked for."""
        own, shared = self.own.like(word), self.shared.like(word)
        if not own and not shared:
            own, shared = self.own.nearly(word), self.shared.nearly(word)
        things: Scores = {}
        for number, score in own.items():
            for position, bonus in self.owners[number]:
                things[position] = max(things.get(position, 0), score + bonus)
        groups: Scores = {}
        for number, score in shared.items():
            for group in self.sharers[number]:
                groups[group] = max(groups.get(group, 0), score)
        return things, groups

    def _owned(self, scores: Sequence[tuple[Scores, Scores]]) -> Scores:
        """Of things that one of the words is the own of: the sum over all words, if each has a match."""
        totals: Scores = {}
        for position in set().union(*(things for things, _ in scores)):
            group = self.entries[position].group
            each = [max(things.get(position, 0), groups.get(group, 0)) for things, groups in scores]
            if all(each):
                totals[position] = sum(each)
        return totals


def own_words(entry: Entry) -> dict[str, int]:
    """The words of its name, which count for more, and of its serial."""
    name, serial = pieces(entry.name), pieces(entry.serial)
    return {
        **dict.fromkeys([*serial, "".join(serial)], 0),
        **dict.fromkeys([*name, "".join(name)], TAG_BONUS),
    }


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
