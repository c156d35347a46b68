"""Which insert may serve a wish, where it could sit, and what that costs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import log2

from tasks.planning.chain_records import (
    COMPRESSOR,
    EQUALISER,
    LIMITER,
    ChainHouse,
    ChainNeed,
    InsertChannel,
    InsertUnit,
    InsertWish,
)
from tasks.planning.chain_settings import ratio_of

DYNAMICS = (COMPRESSOR, LIMITER)


@dataclass(frozen=True, slots=True)
class ChainCosts:
    """Whole numbers, highest concern first; leaving a wish out stands above all of them.

    begun: a further unit makes the patch longer; one more for each dear_step of its value.
    octave_of_ratio: for each doubling that the ratio is off.
    """

    last_choice: int = 4000
    other_threshold: int = 400
    moved: int = 250
    fetched: int = 200
    octave_of_ratio: int = 60
    unknown: int = 50
    begun: int = 6
    has_a_limit: int = 4
    dear_step: int = 1000
    dear_most: int = 3


@dataclass(frozen=True, slots=True)
class Job:
    """One wish at one place of a chain: of one input, or of both halves of a pair."""

    place: int
    wish: InsertWish
    needs: tuple[ChainNeed, ...]

    @property
    def priority(self) -> int:
        return min(need.priority for need in self.needs)


@dataclass(frozen=True, slots=True)
class Slot:
    """A channel of a unit for one input, or two linked neighbours for a pair; the cost without that of the unit."""

    unit: InsertUnit
    channels: tuple[InsertChannel, ...]
    cost: int


def jobs(house: ChainHouse) -> Iterator[Job]:
    """In the order of the inputs. The halves of a pair that wish the same at one place are one job."""
    done: set[tuple[int, int]] = set()
    for need in house.needs:
        for place, wish in enumerate(need.wishes, start=1):
            if (need.number, place) in done:
                continue
            together = [need, *_other_half(house, need, place, wish)]
            done.update((each.number, place) for each in together)
            yield Job(place, wish, tuple(together))


def _other_half(house: ChainHouse, need: ChainNeed, place: int, wish: InsertWish) -> list[ChainNeed]:
    if need.pair is None:
        return []
    halves = [other for other in house.needs if other.pair == need.pair and other.number != need.number]
    return [half for half in halves if half.wishes[place - 1 : place] == (wish,)][:1]


def may_serve(wish: InsertWish, unit: InsertUnit) -> bool:
    """By what it can do: a compressor that reaches 20 to 1 limits, a limiter that has no less than 10 doesn't compress.

    Where its ratios aren't known, it is what it is called.
    """
    if wish.valves and not unit.valves:
        return False
    if wish.kind == EQUALISER:
        return unit.kind == EQUALISER
    if unit.kind not in DYNAMICS:
        return False
    return ratio_of(wish, unit) is not None if unit.ratios else unit.kind == wish.kind


def slots(job: Job, house: ChainHouse, costs: ChainCosts) -> list[Slot]:
    """Every place where the job could go."""
    found = []
    for unit in house.units:
        if not may_serve(job.wish, unit):
            continue
        base = _fit(job.wish, unit, costs)
        for channels in places(unit, len(job.needs)):
            found.append(Slot(unit, channels, base + _of_channels(job, unit, channels, costs)))
    return found


def places(unit: InsertUnit, how_many: int) -> list[tuple[InsertChannel, ...]]:
    """Each channel, or for a pair each two neighbours that can be linked."""
    if how_many == 1:
        return [(channel,) for channel in unit.channels]
    if not unit.linked:
        return []
    in_order = sorted(unit.channels, key=lambda channel: channel.number)
    return [(a, b) for a, b in pairwise(in_order) if b.number == a.number + 1]


def _fit(wish: InsertWish, unit: InsertUnit, costs: ChainCosts) -> int:
    cost = 0
    if wish.threshold and unit.threshold != wish.threshold:
        cost += costs.other_threshold if unit.threshold else costs.unknown
    if wish.ratio:
        ratio = ratio_of(wish, unit)
        cost += (
            costs.unknown if ratio is None else round(costs.octave_of_ratio * abs(log2(ratio / wish.ratio)))
        )
    return cost


def _of_channels(job: Job, unit: InsertUnit, channels: tuple[InsertChannel, ...], costs: ChainCosts) -> int:
    cost = 0
    for need, channel in zip(job.needs, channels, strict=True):
        before = need.before[job.place - 1] if len(need.before) >= job.place else None
        cost += costs.moved * (before is not None and before != (unit.tag, channel.number))
        cost += costs.last_choice * channel.last_choice + costs.has_a_limit * bool(channel.limits)
    return cost


def cost_of_unit(unit: InsertUnit, costs: ChainCosts) -> int:
    """Once, however many channels of it are used."""
    dear = max(0, min(unit.value // costs.dear_step, costs.dear_most))
    return costs.begun + dear + costs.fetched * (not unit.here)


def left_out(all_jobs: list[Job], most_of_the_rest: int) -> dict[int, int]:
    """For each priority the cost of leaving one wish out: more than everything of lower concern together."""
    cost, found = most_of_the_rest + 1, {}
    for priority in sorted({job.priority for job in all_jobs}, reverse=True):
        found[priority] = cost
        cost *= sum(job.priority == priority for job in all_jobs) + 1
    return found
