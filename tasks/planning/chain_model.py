"""The inserts as a CP-SAT model: by jobs that are alike and channels that are alike, named afterwards.

What is alike is interchangeable, and a solver that is told so proves its answer in little time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from ortools.sat.python import cp_model

from tasks.planning.chain_costs import ChainCosts, Job, Slot, cost_of_unit, left_out
from tasks.planning.chain_records import EQUALISER, InsertUnit
from tasks.planning.model import solver_of

Place = tuple[str, tuple[int, ...]]
"""A unit's tag with a class of its channels, named by the first of them, or with the two channels of a pair."""


@dataclass(slots=True)
class Kind:
    """Jobs that are alike: their numbers, and for each place where one could go the cost and what is left there."""

    members: list[int]
    priority: int
    paired: bool
    places: dict[Place, int]


@dataclass(frozen=True, slots=True)
class Answer:
    """For each job the slot that it got, None for nothing; cost and bound are the same where that is proven."""

    taken: list[Slot | None]
    cost: int
    bound: int


class ChainModel:
    def __init__(self, jobs: list[Job], slots: list[list[Slot]], costs: ChainCosts) -> None:
        self.jobs, self.slots, self.costs = jobs, slots, costs
        self.cp = cp_model.CpModel()
        self.units = {slot.unit.tag: slot.unit for mine in slots for slot in mine}
        wanted = {spot for job in jobs for need in job.needs for spot in need.before if spot}
        self.class_of = {tag: _classes(unit, wanted) for tag, unit in self.units.items()}
        self.kinds = self._kinds()
        self.counts: list[dict[Place, Any]] = [
            {
                place: self.cp.new_int_var(0, min(len(kind.members), self._room(place)), "")
                for place in kind.places
            }
            for kind in self.kinds
        ]
        self.begun = {tag: self.cp.new_bool_var(tag) for tag in self.units}
        self._hold()

    def _place(self, slot: Slot) -> Place:
        numbers = tuple(channel.number for channel in slot.channels)
        tag = slot.unit.tag
        return (tag, numbers) if len(numbers) == 2 else (tag, (self.class_of[tag][numbers[0]],))

    def _room(self, place: Place) -> int:
        tag, numbers = place
        return 1 if len(numbers) == 2 else list(self.class_of[tag].values()).count(numbers[0])

    def _kinds(self) -> list[Kind]:
        found: dict[Any, Kind] = {}
        for j, (job, mine) in enumerate(zip(self.jobs, self.slots, strict=True)):
            places = {self._place(slot): slot.cost for slot in mine}
            key = (job.priority, len(job.needs), tuple(places.items()))
            kind = found.setdefault(key, Kind([], job.priority, len(job.needs) == 2, places))
            kind.members.append(j)
        return list(found.values())

    def _hold(self) -> None:
        """Every job once, every channel once, an equaliser that is set as a whole once; what is used is begun."""
        for kind, mine in zip(self.kinds, self.counts, strict=True):
            self.cp.add(sum(mine.values()) <= len(kind.members))
        for tag, unit in self.units.items():
            here = [(place, var) for mine in self.counts for place, var in mine.items() if place[0] == tag]
            if unit.kind == EQUALISER and unit.linked:
                self.cp.add(sum(var for _, var in here) <= self.begun[tag])
                continue
            for first in set(self.class_of[tag].values()):
                ours = [number for number, c in self.class_of[tag].items() if c == first]
                used = sum(
                    var * (1 if len(numbers) == 1 else len({*numbers} & {*ours}))
                    for (_, numbers), var in here
                    if numbers == (first,) or len(numbers) == 2
                )
                self.cp.add(used <= len(ours) * self.begun[tag])
            for channel in unit.channels:
                pairs = [var for (_, numbers), var in here if len(numbers) == 2 and channel.number in numbers]
                self.cp.add(sum(pairs) <= self.begun[tag])
        self._in_order()

    def _in_order(self) -> None:
        """Of units that are alike to every job, the first is begun first."""
        alike: dict[Any, list[str]] = {}
        for tag, unit in self.units.items():
            seen = [
                (k, numbers, cost)
                for k, kind in enumerate(self.kinds)
                for (t, numbers), cost in kind.places.items()
                if t == tag
            ]
            key = (tuple(seen), cost_of_unit(unit, self.costs), tuple(self.class_of[tag].items()))
            alike.setdefault((key, unit.kind == EQUALISER and unit.linked), []).append(tag)
        for tags in alike.values():
            for first, then in pairwise(tags):
                self.cp.add(self.begun[first] >= self.begun[then])

    def solve(self, seconds: float) -> Answer:
        most = sum(max((slot.cost for slot in mine), default=0) for mine in self.slots)
        most += sum(cost_of_unit(unit, self.costs) for unit in self.units.values())
        price = left_out(self.jobs, most)
        lost = [
            price[kind.priority] * (len(kind.members) - sum(mine.values()))
            for kind, mine in zip(self.kinds, self.counts, strict=True)
        ]
        liked = [
            cost * self.counts[k][place]
            for k, kind in enumerate(self.kinds)
            for place, cost in kind.places.items()
        ]
        begun = [cost_of_unit(unit, self.costs) * self.begun[tag] for tag, unit in self.units.items()]
        self.cp.minimize(sum(lost) + sum(liked) + sum(begun))
        for var in [*self.begun.values(), *(var for mine in self.counts for var in mine.values())]:
            self.cp.add_hint(var, 0)
        solver = solver_of(seconds)
        if solver.solve(self.cp) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return self._in_turn(price)
        counts = [{place: solver.value(var) for place, var in mine.items()} for mine in self.counts]
        return Answer(self._named(counts), round(solver.objective_value), round(solver.best_objective_bound))

    def _in_turn(self, price: dict[int, int]) -> Answer:
        """Where the time was too short for any answer: lead parts first, each to what costs least of what is left."""
        taken: list[Slot | None] = [None] * len(self.jobs)
        used: set[tuple[str, int]] = set()
        for j in sorted(range(len(self.jobs)), key=lambda j: (self.jobs[j].priority, j)):
            free = [slot for slot in self.slots[j] if not used & _held(slot)]
            if free:
                slot = taken[j] = min(free, key=lambda s: s.cost + cost_of_unit(s.unit, self.costs))
                used |= _held(slot)
        cost = sum(s.cost if s else price[job.priority] for s, job in zip(taken, self.jobs, strict=True))
        begun = {tag for tag, _ in used}
        return Answer(taken, cost + sum(cost_of_unit(self.units[tag], self.costs) for tag in begun), 0)

    def _named(self, counts: list[dict[Place, int]]) -> list[Slot | None]:
        """Pairs first, which say which channels they want; each other channel goes to the first that may have it."""
        taken: list[Slot | None] = [None] * len(self.jobs)
        used: set[tuple[str, int]] = set()
        for paired in (True, False):
            for kind, mine in zip(self.kinds, counts, strict=True):
                if kind.paired == paired:
                    self._give(kind, mine, taken, used)
        return taken

    def _give(
        self, kind: Kind, mine: dict[Place, int], taken: list[Slot | None], used: set[tuple[str, int]]
    ) -> None:
        waiting = iter(kind.members)
        for place, count in mine.items():
            for j in [next(waiting) for _ in range(count)]:
                slot = next(s for s in self.slots[j] if self._place(s) == place and not used & _spots(s))
                taken[j] = slot
                used |= _spots(slot)


def _spots(slot: Slot) -> set[tuple[str, int]]:
    return {(slot.unit.tag, channel.number) for channel in slot.channels}


def _held(slot: Slot) -> set[tuple[str, int]]:
    """Its channels; of an equaliser that is set as a whole, all of them."""
    whole = slot.unit.kind == EQUALISER and slot.unit.linked
    return {(slot.unit.tag, channel.number) for channel in (slot.unit.channels if whole else slot.channels)}


def _classes(unit: InsertUnit, wanted: set[tuple[str, int]]) -> dict[int, int]:
    """For each channel the first one that is like it; one that an input had before is like no other."""
    firsts: dict[Any, int] = {}
    return {
        channel.number: firsts.setdefault(
            (
                channel.last_choice,
                bool(channel.limits),
                channel.number if (unit.tag, channel.number) in wanted else 0,
            ),
            channel.number,
        )
        for channel in unit.channels
    }


def solved(jobs: list[Job], slots: Sequence[list[Slot]], costs: ChainCosts, seconds: float) -> Answer:
    return ChainModel(jobs, list(slots), costs).solve(seconds)
