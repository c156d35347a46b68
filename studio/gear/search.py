"""Finding units by what people type: an index in memory, tolerant of misspelling.

The index holds folded words and the units that have them; a query is matched against the words (some
thousands, whatever the number of units) and only what is shown is read from the database.
"""

from __future__ import annotations

import time
from bisect import bisect
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Any

from django.db import connection
from django.db.models import Count, Max
from django.db.models.signals import post_delete, post_save
from django.dispatch import receiver
from rapidfuzz import process
from rapidfuzz.distance import OSA

from studio.gear.words import PEOPLES_WORDS, joined, pieces, plain
from studio.models import GearModel, GearUnit, MicrophoneSpec

KEPT_SECONDS = 300
EXACT, BEGINS, INSIDE, CLOSE = 100, 90, 70, 60
TAG_BONUS = 25


@dataclass(frozen=True, slots=True)
class Entry:
    """A unit as the index knows it. number_of_channels is 0 for a unit without any."""

    pk: int
    tag: str
    joined_tag: str
    number_of_channels: int
    tag_words: frozenset[str]
    words: frozenset[str]


@dataclass(frozen=True, slots=True)
class Hit:
    """exact: the query names this unit, or this channel of it, and nothing else."""

    pk: int
    tag: str
    channel: int | None = None
    exact: bool = False


class Index:
    """Immutable once built: words to the units that have them.

    `text` is all words in one string, a line each, beginning at `starts`: finding a part of a word in it is
    one pass over plain memory.
    """

    def __init__(self, entries: Iterable[Entry]) -> None:
        self.entries = list(entries)
        self.by_tag: dict[str, list[Entry]] = defaultdict(list)
        self.by_word: dict[str, list[int]] = defaultdict(list)
        for position, entry in enumerate(self.entries):
            self.by_tag[plain(entry.joined_tag)].append(entry)
            for word in entry.words:
                self.by_word[word].append(position)
        self.vocabulary = list(self.by_word)
        self.text = "\n".join(self.vocabulary)
        self.starts = list(accumulate((len(word) + 1 for word in self.vocabulary), initial=0))

    def find(self, query: str) -> list[Hit]:
        """Best first: what the query names, then what it may mean. Empty for a query without a word."""
        asked = pieces(query)
        if not asked:
            return []
        alike = [Hit(entry.pk, entry.tag) for entry in self._ranked(asked)] or self._channels_alike(asked)
        seen: dict[tuple[int, int | None], Hit] = {}
        for hit in [*self._named(asked), *alike]:
            seen.setdefault((hit.pk, hit.channel), hit)
        return list(seen.values())

    def _named(self, asked: Sequence[str]) -> list[Hit]:
        """The unit, or channel of a unit, that this is the very name of."""
        same = [(entry, None) for entry in self._tagged("".join(asked))]
        rest, number = channel_number(asked)
        parts = [(entry, number) for entry in self._tagged("".join(rest)) if _has(entry, number)]
        named = [*same, *parts]
        return [Hit(entry.pk, entry.tag, number, exact=len(named) == 1) for entry, number in named]

    def _tagged(self, name: str) -> list[Entry]:
        """Units of this tag; where none is written just so, those that differ in leading zeros only."""
        alike = self.by_tag.get(plain(name), [])
        return [entry for entry in alike if entry.joined_tag == name] or alike

    def _channels_alike(self, asked: Sequence[str]) -> list[Hit]:
        rest, number = channel_number(asked)
        return [Hit(entry.pk, entry.tag, number) for entry in self._ranked(rest) if _has(entry, number)]

    def _ranked(self, asked: Iterable[str]) -> list[Entry]:
        """Units that have something like every word that was asked for."""
        likes = sorted((self._like(word) for word in asked), key=self._units_with)
        if not likes:
            return []
        positions = {position for word in likes[0] for position in self.by_word[word]}
        scored = [
            (self._score(self.entries[position], likes), self.entries[position]) for position in positions
        ]
        best = sorted((pair for pair in scored if pair[0]), key=lambda pair: (-pair[0], pair[1].tag))
        return [entry for _, entry in best]

    def _units_with(self, like: dict[str, int]) -> int:
        return sum(len(self.by_word[word]) for word in like)

    def _score(self, entry: Entry, likes: Iterable[dict[str, int]]) -> int:
        """The sum of the best match of each word that was asked for; 0 where one has none."""
        total = 0
        for like in likes:
            matches = like.keys() & entry.words
            if not matches:
                return 0
            total += max(like[word] + TAG_BONUS * (word in entry.tag_words) for word in matches)
        return total

    def _like(self, asked: str) -> dict[str, int]:
        """Words that are, begin with, contain or nearly are the one asked for, and how well.

        A single figure is only itself: the 3 of a channel is not the beginning of a serial number.
        """
        if len(asked) == 1 and asked.isdigit():
            return {asked: EXACT} if asked in self.by_word else {}
        found: dict[str, int] = {}
        anywhere = len(asked) > 1 or not asked.isalnum()
        at = self.text.find(asked)
        while at >= 0:
            word_number = bisect(self.starts, at) - 1
            word, start = self.vocabulary[word_number], self.starts[word_number]
            if at == start:
                found[word] = EXACT if word == asked else BEGINS
            elif anywhere:
                found[word] = INSIDE
            at = self.text.find(asked, start + len(word))
        return found or self._nearly(asked)

    def _nearly(self, asked: str) -> dict[str, int]:
        """Misspelt: a slip in three letters, two in six. What holds a figure or a sign is right or wrong."""
        slips = min(len(asked) // 3, 3)
        if not slips or not asked.isalpha():
            return {}
        near = process.extract(
            asked, self.vocabulary, scorer=OSA.distance, score_cutoff=slips, limit=None, processor=None
        )
        return {word: CLOSE - 10 * int(distance) for word, distance, _ in near if word.isalpha()}


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


def build() -> Index:
    """The index of what the database holds now. One query."""
    units = GearUnit.objects.select_related("gear_model__microphone", "home_room", "site").order_by("tag")
    return Index(_entry(unit) for unit in units.iterator(chunk_size=2000))


def _entry(unit: GearUnit) -> Entry:
    model = unit.gear_model
    spec = model.microphone if hasattr(model, "microphone") else None
    said = [model.get_kind_display(), PEOPLES_WORDS.get(model.kind, "")]
    if spec:
        said += [spec.get_transducer_display(), PEOPLES_WORDS.get(spec.transducer, "")]
    place = unit.home_room.name if unit.home_room else unit.site.name
    texts = [unit.serial, model.maker, model.name, place, unit.storage, *said]
    tag_words = frozenset([*pieces(unit.tag), joined(unit.tag)])
    words = {word for text in texts for word in pieces(text)} | {joined(model.name), joined(unit.serial)}
    return Entry(unit.pk, unit.tag, joined(unit.tag), model.channels, tag_words, tag_words | (words - {""}))


class _Kept:
    """The index of this process, built anew when units came or went, and after KEPT_SECONDS in any case.

    Another process's renaming is noticed by then; what is shown of a unit is always read from the database.
    """

    index: Index | None = None
    stamp: tuple[Any, ...] = ()
    until = 0.0

    def get(self) -> Index:
        counted = GearUnit.objects.aggregate(units=Count("pk"), newest=Max("pk"))
        stamp = (connection.settings_dict["NAME"], counted["units"], counted["newest"])
        if self.index is None or stamp != self.stamp or time.monotonic() > self.until:
            self.index, self.stamp = build(), stamp
            self.until = time.monotonic() + KEPT_SECONDS
        return self.index

    def forget(self) -> None:
        self.index = None


_kept = _Kept()


@receiver([post_save, post_delete], sender=GearUnit, dispatch_uid="studio.index_unit")
@receiver([post_save, post_delete], sender=GearModel, dispatch_uid="studio.index_model")
@receiver([post_save, post_delete], sender=MicrophoneSpec, dispatch_uid="studio.index_microphone")
def _forget(sender: Any, **kwargs: Any) -> None:
    _kept.forget()


def find(query: str) -> list[Hit]:
    """Units and channels that the query may mean, best first. A constant number of queries."""
    return _kept.get().find(query)
