"""What is alike: inputs that ask for the same, units that do the same, channels that are the same.

The solver counts in these groups; names are given afterwards. Ninety-six inputs come down to a few dozen.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from tasks.planning.carrying import length_classes, overburdened, serves, stands_for
from tasks.planning.costs import Costs
from tasks.planning.couples import Couples, couples_of
from tasks.planning.levels import Peaks, gain_with, pad_within, pairs_of, peaks_of
from tasks.planning.rules import (
    GAIN_UNKNOWN,
    Demand,
    Feed,
    Range,
    can_feed,
    draw_of,
    feed_of,
    is_shared,
    pick_cost,
    range_of,
    switch_of,
)
from tasks.planning.snapshot import Need, PickupUnit, PreampChannel, PreampUnit, Snapshot, Switching

Make = tuple[str, Demand]
"""A model with what it asks of its channel: the two halves of a pair must share it."""


@dataclass(frozen=True, slots=True)
class NeedGroup:
    """Inputs that ask for the same; members are places in the sorted list of needs, in input order."""

    need: Need
    members: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class PairGroup:
    """Pairs that ask for the same: the need groups of their first and of their second halves."""

    first: int
    second: int
    count: int


@dataclass(frozen=True, slots=True)
class UnitGroup:
    """Units that do the same. demand is without the gain, which depends on the source too."""

    units: tuple[PickupUnit, ...]
    demand: Demand

    @property
    def room(self) -> int:
        """How many inputs the units take together."""
        return sum(max(0, unit.inputs) for unit in self.units)

    def had_by(self, need: Need) -> PickupUnit:
        """The one that this input has had, else the first."""
        return next((unit for unit in self.units if unit.tag == need.had), self.units[0])


@dataclass(frozen=True, slots=True)
class Run:
    """Channels in a row on one preamp that are all alike. switch is None unless it is shared."""

    preamp: int
    switch: int | None
    channels: tuple[int, ...]
    feeds: bool
    limited: bool
    last_choice: bool
    gains: Range

    @property
    def size(self) -> int:
        return len(self.channels)

    @property
    def may_be_noisy(self) -> bool:
        return self.gains.noisy_above_db < math.inf


@dataclass(frozen=True, slots=True)
class House:
    """A snapshot put in order and in groups. joins are places of runs (a, b) where b goes on where a ends.

    ranges: each range of gain that some channel is bound to. peaks: by the number of each input what it is set for.
    couples: units that belong together, by the places of their groups. cable_classes: see `length_classes`.
    """

    snapshot: Snapshot
    costs: Costs
    needs: tuple[Need, ...]
    need_groups: tuple[NeedGroup, ...]
    pair_groups: tuple[PairGroup, ...]
    unit_groups: tuple[UnitGroup, ...]
    preamps: tuple[PreampUnit, ...]
    runs: tuple[Run, ...]
    joins: tuple[tuple[int, int], ...]
    tight: frozenset[int]
    pairs: tuple[tuple[int, int], ...]
    ranges: tuple[Range, ...]
    peaks: Mapping[int, Peaks]
    couples: Couples
    cable_classes: Mapping[int, float]

    def choices(self, group: NeedGroup) -> list[int]:
        """Places of the unit groups that may serve these inputs."""
        return [
            p
            for p, unit_group in enumerate(self.unit_groups)
            if serves(self.snapshot, group.need, unit_group.units[0])
        ]

    def cost(self, group: NeedGroup, unit_group: UnitGroup) -> int:
        """Whoever has had one of these units gets it back: they are handed out so."""
        return pick_cost(group.need, unit_group.had_by(group.need), self.costs)

    def stands(self, group: NeedGroup, unit_group: UnitGroup) -> tuple[str, ...]:
        """The kinds of stand that will do for these inputs with these units."""
        return stands_for(self.snapshot, group.need, unit_group.units[0])

    def demand(self, group: NeedGroup, unit_group: UnitGroup) -> Demand:
        """What these inputs ask of a channel with these units."""
        if not self.ranges:
            return unit_group.demand
        peaks, unit = self.peaks[self.needs[group.members[0]].number], unit_group.units[0]
        if gain_with(peaks, unit, pad=False) is None:
            return unit_group.demand._replace(gain=GAIN_UNKNOWN)
        held = (pad_within(peaks, unit, gains) is not None for gains in self.ranges)
        return unit_group.demand._replace(gain=sum(1 << place for place, does in enumerate(held) if does))

    def make(self, group: NeedGroup, unit_group: UnitGroup) -> Make:
        return unit_group.units[0].model, self.demand(group, unit_group)


def house_of(
    snapshot: Snapshot, costs: Costs, apart: frozenset[str] = frozenset(), shared: bool = False
) -> House:
    """The snapshot in groups; every order is fixed here, so that the same input gives the same plan.

    apart: tags of units that stand in no group with others. shared: others take of the same cables.
    """
    needs = _with_what_is_left(sorted(snapshot.needs, key=lambda need: need.number), snapshot.pickups)
    preamps = tuple(sorted(snapshot.preamps, key=lambda p: (not p.here, -len(p.channels), p.tag)))
    tight = _tight_supplies(preamps, snapshot.pickups)
    runs = tuple(run for place, preamp in enumerate(preamps) for run in _runs(place, preamp))
    if not any(unit.only_patterns for unit in snapshot.pickups):
        needs = tuple(replace(need, patterns=()) for need in needs)  # a difference that makes none
    pairs = pairs_of(needs)
    classes = length_classes(snapshot.cables, needs, shared) if snapshot.cables is not None else {}
    need_groups, pair_groups = _need_groups(needs, pairs, classes)
    ranges = tuple(sorted({run.gains for run in runs if not run.gains.everything}))
    apart |= _named(needs) | _had_of_a_couple(needs, snapshot.pickups)
    unit_groups = _unit_groups(snapshot, costs, bool(tight), bool(ranges), apart)
    return House(
        snapshot=snapshot,
        costs=costs,
        needs=needs,
        need_groups=need_groups,
        pair_groups=pair_groups,
        unit_groups=unit_groups,
        preamps=preamps,
        runs=runs,
        joins=_joins(runs),
        tight=tight,
        pairs=pairs,
        ranges=ranges,
        peaks=peaks_of(needs),
        couples=couples_of([group.units for group in unit_groups]),
        cable_classes=classes,
    )


def _with_what_is_left(needs: Iterable[Need], units: Iterable[PickupUnit]) -> tuple[Need, ...]:
    """What an input has had counts only where the unit is there, and for no more inputs than it takes."""
    left = {unit.tag: max(0, unit.inputs) for unit in units}
    kept = []
    for need in needs:
        left[need.had] = left.get(need.had, 0) - 1
        kept.append(need if left[need.had] >= 0 else replace(need, had="", set_up=False))
    return tuple(kept)


def _named(needs: Iterable[Need]) -> frozenset[str]:
    """Everything that somebody likes or dislikes by name."""
    likings = (liking for need in needs for liking in (need.own, need.house))
    return frozenset(name for liking in likings for name in (*liking.wanted, *liking.never))


def _had_of_a_couple(needs: Iterable[Need], units: Iterable[PickupUnit]) -> frozenset[str]:
    """Units that somebody has had and that another belongs to: which of them is taken makes a difference."""
    had = {need.had for need in needs}
    return frozenset(unit.tag for unit in units if unit.tag in had and (unit.matched or unit.inputs > 1))


def _likeness(need: Need, classes: Mapping[int, float]) -> Need:
    return replace(need, number=0, label="", source="", pair=None, cable_m=classes.get(need.number))


def _need_groups(
    needs: Sequence[Need], pairs: Sequence[tuple[int, int]], classes: Mapping[int, float]
) -> tuple[tuple[NeedGroup, ...], tuple[PairGroup, ...]]:
    """What is asked for of a cable is its class of length, None where cables can't run short."""
    like = [_likeness(need, classes) for need in needs]
    side = {place: (half, like[a], like[b]) for a, b in pairs for half, place in enumerate((a, b))}
    members: dict[Hashable, list[int]] = defaultdict(list)
    for place in range(len(needs)):
        members[side.get(place, like[place])].append(place)
    groups = tuple(NeedGroup(like[places[0]], tuple(places)) for places in members.values())
    number = {place: g for g, group in enumerate(groups) for place in group.members}
    together = dict.fromkeys((number[a], number[b]) for a, b in pairs)
    return groups, tuple(PairGroup(a, b, len(groups[a].members)) for a, b in together)


def _unit_groups(
    snapshot: Snapshot, costs: Costs, by_current: bool, by_gain: bool, apart: frozenset[str]
) -> tuple[UnitGroup, ...]:
    alike: dict[Hashable, list[PickupUnit]] = defaultdict(list)
    outlets_count = snapshot.mains_outlets is not None
    for unit in sorted(snapshot.pickups, key=lambda unit: unit.tag):
        demand = Demand(feed_of(unit), draw_of(unit) if by_current else 0)
        level = (unit.max_spl_db, unit.pad_db, unit.gain_at_94_db if by_gain else None)
        spared = (bool(unit.limits), unit.last_choice, costs.spare(unit.value))
        cost = (unit.here, unit.asked, spared, unit.only_patterns)
        carried = (overburdened(snapshot, unit), outlets_count and unit.own_supply)
        name = unit.tag if unit.tag in apart else ""
        what = (unit.pickup, unit.kind, unit.model, unit.inputs)
        alike[(demand, what, level, cost, carried, name)].append(unit)
    return tuple(UnitGroup(tuple(group), key[0]) for key, group in alike.items() if isinstance(key, tuple))


def _tight_supplies(preamps: Sequence[PreampUnit], units: Iterable[PickupUnit]) -> frozenset[int]:
    """Places of the preamps whose phantom supply could be overdrawn by the hungriest units of the house."""
    draws = sorted((draw for unit in units for draw in [draw_of(unit)] * max(0, unit.inputs)), reverse=True)
    return frozenset(
        place
        for place, preamp in enumerate(preamps)
        if preamp.phantom_supply_ma is not None
        and sum(draws[: sum(can_feed(preamp, channel) for channel in preamp.channels)]) > supply_of(preamp)
    )


def supply_of(preamp: PreampUnit) -> int:
    """Hundredths of a milliampere that the unit's phantom supply can give, rounded down."""
    return int(max(0.0, preamp.phantom_supply_ma or 0.0) * 100 + 1e-6)


def _runs(place: int, preamp: PreampUnit) -> list[Run]:
    runs: list[Run] = []
    for channel in sorted(preamp.channels, key=lambda channel: channel.number):
        single = _run_of_one(place, preamp, channel)
        last = runs[-1] if runs else None
        if last and replace(single, channels=()) == replace(last, channels=()) and _goes_on(last, single):
            runs[-1] = replace(last, channels=last.channels + single.channels)
        else:
            runs.append(single)
    return runs


def _run_of_one(place: int, preamp: PreampUnit, channel: PreampChannel) -> Run:
    switch = switch_of(preamp, channel.number) if is_shared(preamp) else None
    return Run(
        preamp=place,
        switch=switch,
        channels=(channel.number,),
        feeds=can_feed(preamp, channel),
        limited=bool(channel.limits),
        last_choice=channel.last_choice,
        gains=range_of(preamp, channel),
    )


def _goes_on(run: Run, after: Run) -> bool:
    return run.preamp == after.preamp and run.channels[-1] + 1 == after.channels[0]


def _joins(runs: Sequence[Run]) -> tuple[tuple[int, int], ...]:
    return tuple((r, r + 1) for r in range(len(runs) - 1) if _goes_on(runs[r], runs[r + 1]))


def accepts(house: House, run: Run, demand: Demand) -> bool:
    """True where some setting of the run's switch suits the feed, and its range holds the gain."""
    if not run.gains.everything and not demand.gain >> house.ranges.index(run.gains) & 1:
        return False
    if demand.feed is Feed.ON:
        return run.feeds
    return demand.feed is Feed.ANY or house.preamps[run.preamp].switching is not Switching.ALWAYS_ON
