"""What is alike: inputs that ask for the same, units that do the same, channels that are the same.

The solver counts in these groups; names are given afterwards. Ninety-six inputs come down to a few dozen.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from tasks.planning.costs import Costs
from tasks.planning.rules import (
    A_HAIR_DB,
    GAIN_UNKNOWN,
    Demand,
    Feed,
    can_feed,
    draw_of,
    feed_of,
    gain_wanted,
    is_shared,
    may_serve,
    pick_cost,
    switch_of,
)
from tasks.planning.snapshot import Need, Pickup, PickupUnit, PreampChannel, PreampUnit, Snapshot, Switching

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
    noisy_above_db: float | None

    @property
    def size(self) -> int:
        return len(self.channels)


@dataclass(frozen=True, slots=True)
class House:
    """A snapshot put in order and in groups. joins are places of runs (a, b) where b goes on where a ends.

    noisy_above_db: each gain above which some channel is noisy, the lowest first. set_for_spl_db: for the number
    of each input the peaks that its gain is set for.
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
    noisy_above_db: tuple[float, ...]
    set_for_spl_db: Mapping[int, float | None]

    def choices(self, group: NeedGroup) -> list[int]:
        """Places of the unit groups that may serve these inputs."""
        return [
            p for p, unit_group in enumerate(self.unit_groups) if may_serve(group.need, unit_group.units[0])
        ]

    def cost(self, group: NeedGroup, unit_group: UnitGroup) -> int:
        """Whoever has had one of these units gets it back: they are handed out so."""
        return pick_cost(group.need, unit_group.had_by(group.need), self.costs)

    def gain_db(self, need: Need, unit: PickupUnit) -> float | None:
        """The gain that the input asks for with this unit, as far as it is known."""
        return gain_wanted(self.set_for_spl_db[need.number], unit)

    def demand(self, group: NeedGroup, unit_group: UnitGroup) -> Demand:
        """What these inputs ask of a channel with these units."""
        if not self.noisy_above_db:
            return unit_group.demand
        gain = self.gain_db(self.needs[group.members[0]], unit_group.units[0])
        if gain is None:
            return unit_group.demand._replace(gain=GAIN_UNKNOWN)
        return unit_group.demand._replace(gain=sum(gain > limit + A_HAIR_DB for limit in self.noisy_above_db))

    def make(self, group: NeedGroup, unit_group: UnitGroup) -> Make:
        return unit_group.units[0].model, self.demand(group, unit_group)


def house_of(snapshot: Snapshot, costs: Costs, apart: frozenset[str] = frozenset()) -> House:
    """The snapshot in groups; every order is fixed here, so that the same input gives the same plan.

    apart: tags of units that stand in no group with others.
    """
    needs = _with_what_is_left(sorted(snapshot.needs, key=lambda need: need.number), snapshot.pickups)
    preamps = tuple(sorted(snapshot.preamps, key=lambda p: (not p.here, -len(p.channels), p.tag)))
    tight = _tight_supplies(preamps, snapshot.pickups)
    runs = tuple(run for place, preamp in enumerate(preamps) for run in _runs(place, preamp))
    if not any(unit.only_patterns for unit in snapshot.pickups):
        needs = tuple(replace(need, patterns=()) for need in needs)  # a difference that makes none
    pairs = _pairs(needs)
    need_groups, pair_groups = _need_groups(needs, pairs)
    noisy = {run.noisy_above_db for run in runs if run.noisy_above_db is not None}
    return House(
        snapshot=snapshot,
        costs=costs,
        needs=needs,
        need_groups=need_groups,
        pair_groups=pair_groups,
        unit_groups=_unit_groups(snapshot.pickups, costs, bool(tight), bool(noisy), apart | _named(needs)),
        preamps=preamps,
        runs=runs,
        joins=_joins(runs),
        tight=tight,
        pairs=pairs,
        noisy_above_db=tuple(sorted(noisy)),
        set_for_spl_db=_set_for(needs, pairs),
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


def _set_for(needs: Sequence[Need], pairs: Sequence[tuple[int, int]]) -> dict[int, float | None]:
    """The peaks of each input; for both halves of a pair those of the quieter, not known where one isn't."""
    peaks = {need.number: need.peak_spl_db for need in needs}
    for a, b in pairs:
        one, other = needs[a].peak_spl_db, needs[b].peak_spl_db
        both = None if one is None or other is None else min(one, other)
        peaks[needs[a].number] = peaks[needs[b].number] = both
    return peaks


def _pairs(needs: Sequence[Need]) -> tuple[tuple[int, int], ...]:
    """The two halves of each stereo source that wants a microphone or a DI; an odd third stands alone."""
    halves: dict[int, list[int]] = defaultdict(list)
    for place, need in enumerate(needs):
        if need.pair is not None and need.pickup is not Pickup.LINE:
            halves[need.pair].append(place)
    twos = [(places[0], places[1]) for places in halves.values() if len(places) >= 2]
    return tuple(two for two in twos if needs[two[0]].pickup is needs[two[1]].pickup)


def _likeness(need: Need) -> Need:
    return replace(need, number=0, label="", source="", pair=None)


def _need_groups(
    needs: Sequence[Need], pairs: Sequence[tuple[int, int]]
) -> tuple[tuple[NeedGroup, ...], tuple[PairGroup, ...]]:
    side = {
        place: (half, *map(_likeness, (needs[a], needs[b])))
        for a, b in pairs
        for half, place in enumerate((a, b))
    }
    members: dict[Hashable, list[int]] = defaultdict(list)
    for place, need in enumerate(needs):
        members[side.get(place, _likeness(need))].append(place)
    groups = tuple(NeedGroup(_likeness(needs[places[0]]), tuple(places)) for places in members.values())
    number = {place: g for g, group in enumerate(groups) for place in group.members}
    together = dict.fromkeys((number[a], number[b]) for a, b in pairs)
    return groups, tuple(PairGroup(a, b, len(groups[a].members)) for a, b in together)


def _unit_groups(
    units: Iterable[PickupUnit], costs: Costs, by_current: bool, by_gain: bool, named: frozenset[str]
) -> tuple[UnitGroup, ...]:
    alike: dict[Hashable, list[PickupUnit]] = defaultdict(list)
    for unit in sorted(units, key=lambda unit: unit.tag):
        demand = Demand(feed_of(unit), draw_of(unit) if by_current else 0)
        level = (unit.max_spl_db, unit.pad_db, unit.gain_at_94_db if by_gain else None)
        cost = (unit.here, bool(unit.limits), unit.last_choice, costs.spare(unit.value), unit.only_patterns)
        own_name = unit.tag if unit.tag in named else ""
        alike[(demand, unit.pickup, unit.kind, unit.model, level, unit.inputs, cost, own_name)].append(unit)
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
        noisy_above_db=channel.noisy_above_db,
    )


def _goes_on(run: Run, after: Run) -> bool:
    return run.preamp == after.preamp and run.channels[-1] + 1 == after.channels[0]


def _joins(runs: Sequence[Run]) -> tuple[tuple[int, int], ...]:
    return tuple((r, r + 1) for r in range(len(runs) - 1) if _goes_on(runs[r], runs[r + 1]))


def accepts(house: House, run: Run, demand: Demand) -> bool:
    """True where some setting of the run's switch suits the feed, and it isn't too noisy for the gain."""
    if run.noisy_above_db is not None and demand.gain > house.noisy_above_db.index(run.noisy_above_db):
        return False
    if demand.feed is Feed.ON:
        return run.feeds
    return demand.feed is Feed.ANY or house.preamps[run.preamp].switching is not Switching.ALWAYS_ON
