"""From counts to names: which unit, which channel, in input order wherever that costs nothing.

Every step keeps the counts that the solver proved, so the order of the patch is improved within them only.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from tasks.planning.couples import Slot
from tasks.planning.groups import House, Make, PairGroup, Run, accepts
from tasks.planning.model import Counts
from tasks.planning.rules import Demand, stand_of
from tasks.planning.snapshot import Pickup, PickupUnit, Switching


@dataclass(slots=True)
class Place:
    """Where one input ended up. beside: the other half of its pair sits on the neighbouring channel."""

    unit: PickupUnit | None = None
    unit_input: int | None = None
    demand: Demand | None = None
    preamp: int | None = None
    channel: int | None = None
    beside: bool = False
    stand: str | None = None


@dataclass(slots=True)
class Block:
    """One input, or the two halves of a pair, that go on one run of channels or across a join of two."""

    members: tuple[int, ...]
    demand: Demand
    runs: tuple[int, ...] = ()


def name_everything(house: House, counts: Counts) -> dict[int, Place]:
    """The place of each input that is planned, by its place in the sorted list of needs."""
    units = _UnitNaming(house, counts)
    blocks = _onto_runs(counts, units.blocks())
    _untangle(house, blocks)
    _onto_channels(house, blocks, units.places)
    return units.places


class _UnitNaming:
    """Gives units to inputs: pairs whose units belong together first, then other pairs of one model, then the rest."""

    def __init__(self, house: House, counts: Counts) -> None:
        self.house = house
        self.left = dict(counts.units)
        self.handed: dict[int, list[int]] = defaultdict(list)
        self.places: dict[int, Place] = {}
        self.beside: list[tuple[int, int]] = []
        self.coupled: list[tuple[tuple[int, int], tuple[int, int]]] = []
        self.stands = dict(counts.stands)
        self.waiting = {g: list(group.members) for g, group in enumerate(house.need_groups)}
        for q, pair in enumerate(house.pair_groups):
            couples = {(a, b): n for (k, a, b), n in counts.couples.items() if k == q}
            self._pair_up(pair, couples, {make: n for (k, make), n in counts.neighbours.items() if k == q})
        for g in self.waiting:
            for p in self._choices(g):
                while self.left.get((g, p), 0):
                    self._give(g, p)
        self.stock = {p: list(_inputs_of(house.unit_groups[p].units)) for p in self.handed}
        self._hand_out_couples()
        for p, members in self.handed.items():
            self._hand_out(p, members)

    def _choices(self, g: int) -> list[int]:
        """Unit groups still to be given to this need group, the cheapest first."""
        group = self.house.need_groups[g]
        if group.need.pickup is Pickup.LINE:
            return [-1]
        return sorted(
            (p for (k, p), n in self.left.items() if k == g and n),
            key=lambda p: (self.house.cost(group, self.house.unit_groups[p]), p),
        )

    def _of_make(self, g: int, make: Make) -> int | None:
        return next((p for p in self._choices(g) if self._make(g, p) == make), None)

    def _make(self, g: int, p: int) -> Make:
        return self.house.make(self.house.need_groups[g], self.house.unit_groups[p])

    def _makes(self, pair: PairGroup) -> list[Make]:
        return list(dict.fromkeys(self._make(pair.first, p) for p in self._choices(pair.first)))

    def _pair_up(
        self, pair: PairGroup, couples: Mapping[tuple[int, int], int], beside: Mapping[Make, int]
    ) -> None:
        twos: dict[Make, list[tuple[int, int]]] = defaultdict(list)
        for (a, b), how_many in couples.items():
            for _ in range(how_many):
                twos[self._make(pair.first, a)].append(two := self._give_two(pair, a, b))
                self.coupled.append((two, (a, b)))
        for make in self._makes(pair):
            while (both := self._both_of_make(pair, make)) is not None:
                twos[make].append(self._give_two(pair, *both))
        for make, found in twos.items():
            self.beside += found[: beside.get(make, 0)]

    def _both_of_make(self, pair: PairGroup, make: Make) -> tuple[int, int] | None:
        a, b = self._of_make(pair.first, make), self._of_make(pair.second, make)
        return None if a is None or b is None else (a, b)

    def _give_two(self, pair: PairGroup, a: int, b: int) -> tuple[int, int]:
        return self._give(pair.first, a), self._give(pair.second, b)

    def _give(self, g: int, p: int) -> int:
        member = self.waiting[g].pop(0)
        self.left[g, p] -= 1
        if p < 0:
            self.places[member] = Place(stand=stand_of(self.house.needs[member]))
        else:
            demand = self.house.demand(self.house.need_groups[g], self.house.unit_groups[p])
            self.places[member] = Place(demand=demand, stand=self._stand(g, p))
            self.handed[p].append(member)
        return member

    def _stand(self, g: int, p: int) -> str | None:
        """The one that will do; of several, one that the counts keep for it."""
        kinds = self.house.stands(self.house.need_groups[g], self.house.unit_groups[p])
        kept = next((kind for kind in kinds if self.stands.get((g, p, kind), 0)), None)
        if kept is not None:
            self.stands[g, p, kept] -= 1
        return kept or next(iter(kinds), None)

    def _hand_out_couples(self) -> None:
        left = {places: list(couples) for places, couples in self.house.couples.items()}
        for members, (a, b) in self.coupled:
            slots = left[min(a, b), max(a, b)].pop(0)
            for member, p, slot in zip(members, (a, b), slots if a <= b else slots[::-1], strict=True):
                self._hand(member, p, slot)

    def _hand(self, member: int, p: int, slot: Slot) -> None:
        self.stock[p].remove(slot)
        self.places[member].unit, self.places[member].unit_input = slot

    def _hand_out(self, p: int, members: list[int]) -> None:
        """Whoever has had one of these units gets it back, the others what is left, by tag, matched ones last."""
        stock = self.stock[p]
        stock.sort(key=lambda slot: bool(slot[0].matched))
        had = {member: self.house.needs[member].had for member in members}
        for member in sorted(members, key=lambda member: not had[member]):
            if self.places[member].unit is None:
                own = (slot for slot in stock if slot[0].tag == had[member])
                self._hand(member, p, next(own, stock[0]))

    def blocks(self) -> list[Block]:
        """The inputs that need channels, in input order, neighbours as one."""
        paired = {half for two in self.beside for half in two}
        groups = [*self.beside, *((member,) for member in self.places if member not in paired)]
        wanted = [(members, self.places[members[0]].demand) for members in groups]
        return sorted(
            (Block(members, demand) for members, demand in wanted if demand is not None),
            key=lambda block: block.members,
        )


def _inputs_of(units: tuple[PickupUnit, ...]) -> Iterator[tuple[PickupUnit, int]]:
    return ((unit, number) for unit in units for number in range(1, unit.inputs + 1))


# Channels


def _onto_runs(counts: Counts, blocks: list[Block]) -> list[Block]:
    """Each block, in input order, on a run or a join of two that the counts keep for its demand."""
    free: dict[tuple[int, Demand], list[tuple[int, ...]]] = defaultdict(list)
    for (r, demand), n in sorted(counts.singles.items()):
        free[1, demand] += [(r,)] * n
    for (r, demand), n in counts.twos.items():
        free[2, demand] += [(r,)] * n
    for a, b, demand in counts.straddling:
        free[2, demand].append((a, b))
    for runs in free.values():
        runs.sort(reverse=True)
    for block in blocks:
        block.runs = free[len(block.members), block.demand].pop()
    return blocks


def _untangle(house: House, blocks: list[Block]) -> None:
    """Swap blocks of one shape so that input order follows channel order, where the costs stay the same."""
    for i, block in enumerate(blocks):
        later = [
            other for other in blocks[i + 1 :] if other.runs < block.runs and _swappable(house, block, other)
        ]
        if later:
            other = min(later, key=lambda other: other.runs)
            block.runs, other.runs = other.runs, block.runs


def _swappable(house: House, one: Block, other: Block) -> bool:
    if len(one.members) != len(other.members) or len(one.runs) != len(other.runs):
        return False
    runs = [house.runs[r] for r in one.runs + other.runs]
    if one.demand.draw != other.demand.draw and any(run.preamp in house.tight for run in runs):
        return False
    if one.demand.gain != other.demand.gain and not _any_gain(house, runs, (one.demand, other.demand)):
        return False
    return one.demand.feed is other.demand.feed or all(_takes_any(house, run) for run in runs)


def _any_gain(house: House, runs: list[Run], demands: tuple[Demand, ...]) -> bool:
    """True where each of the runs holds what each of them asks for, and none is noisy."""
    holds = all(accepts(house, run, demand) for run in runs for demand in demands)
    return holds and not any(run.may_be_noisy for run in runs)


def _takes_any(house: House, run: Run) -> bool:
    """True where each channel has its own working switch, so that what is plugged in decides."""
    return run.switch is None and run.feeds and house.preamps[run.preamp].switching is Switching.PER_CHANNEL


def _onto_channels(house: House, blocks: list[Block], places: dict[int, Place]) -> None:
    taken: dict[int, set[int]] = defaultdict(set)
    for block in blocks:
        if len(block.runs) == 2:
            ends = house.runs[block.runs[0]].channels[-1], house.runs[block.runs[1]].channels[0]
            for r, channel, member in zip(block.runs, ends, block.members, strict=True):
                _sit(house, places[member], r, channel)
                taken[r].add(channel)
    for block in blocks:
        if len(block.runs) == 1:
            (r,) = block.runs
            for member in block.members:
                channel = next(c for c in house.runs[r].channels if c not in taken[r])
                _sit(house, places[member], r, channel)
                taken[r].add(channel)
    for block in blocks:
        for member in block.members:
            places[member].beside = len(block.members) == 2


def _sit(house: House, place: Place, r: int, channel: int) -> None:
    place.preamp, place.channel = house.runs[r].preamp, channel
