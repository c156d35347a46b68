"""The part of the model that says which units serve which inputs, and what they take of all that is counted.

For each group of like inputs, how many get each group of like units; pairs, stands, lines, cables and outlets follow.
"""

from __future__ import annotations

from collections import defaultdict

from ortools.sat.python import cp_model

from tasks.planning.carrying import at_least, wants_cable
from tasks.planning.groups import House, Make, PairGroup
from tasks.planning.rules import stand_of
from tasks.planning.snapshot import Pickup

Expr = int | cp_model.LinearExpr


class UnitModel:
    """Builds its part into the cp that it is given. costs: what an expression costs, each with that expression."""

    def __init__(self, house: House, cp: cp_model.CpModel) -> None:
        self.house = house
        self.cp = cp
        self.costs: list[tuple[int, Expr]] = []
        self.filled: dict[int, Expr] = {}
        self.units: dict[tuple[int, int], cp_model.IntVar] = {}
        self.neighbours: dict[tuple[int, Make], cp_model.IntVar] = {}
        self.couples: dict[tuple[int, int, int], cp_model.IntVar] = {}
        self.stronger: dict[tuple[int, int, str], cp_model.IntVar] = {}
        self._allot_units()
        self._keep_pairs()
        self._count_stands()
        self._count_lines_and_cables()
        self._count_outlets()

    def _allot_units(self) -> None:
        for g, group in enumerate(self.house.need_groups):
            most = len(group.members)
            choices = [-1] if group.need.pickup is Pickup.LINE else self.house.choices(group)
            for p in choices:
                room = most if p < 0 else self.house.unit_groups[p].room
                self.units[g, p] = self.cp.new_int_var(0, min(most, room), "")
                if p >= 0:
                    cost = self.house.cost(group, self.house.unit_groups[p])
                    self.costs.append((cost, self.units[g, p]))
            self.filled[g] = sum(self.units[g, p] for p in choices)
            self.cp.add(self.filled[g] <= most)
        for p, unit_group in enumerate(self.house.unit_groups):
            self.cp.add(sum(var for (_, q), var in self.units.items() if q == p) <= unit_group.room)

    def _of_make(self, g: int) -> dict[Make, Expr]:
        """For one need group, how many of its inputs get each make."""
        found: dict[Make, list[cp_model.IntVar]] = defaultdict(list)
        group = self.house.need_groups[g]
        for p in self.house.choices(group):
            found[self.house.make(group, self.house.unit_groups[p])].append(self.units[g, p])
        return {make: sum(variables) for make, variables in found.items()}

    def _keep_pairs(self) -> None:
        costs = self.house.costs
        for q, pair in enumerate(self.house.pair_groups):
            first, second = self._of_make(pair.first), self._of_make(pair.second)
            alike = {}
            shared = [make for make in first if make in second]
            for make in shared:
                alike[make] = self.cp.new_int_var(0, pair.count, "")
                self.neighbours[q, make] = self.cp.new_int_var(0, pair.count, "")
                self.cp.add(alike[make] <= first[make])
                self.cp.add(alike[make] <= second[make])
                self.cp.add(self.neighbours[q, make] <= alike[make])
            together = self._keep_couples(q, pair, alike)
            beside = sum(self.neighbours[q, make] for make in shared)
            self.costs.append((costs.split_pair, pair.count - sum(alike.values())))
            self.costs.append((costs.unmatched_pair, pair.count - together))
            self.costs.append((costs.pair_apart, pair.count - beside))
        for places, couples in self.house.couples.items():
            taken = (var for (_, a, b), var in self.couples.items() if (min(a, b), max(a, b)) == places)
            self.cp.add(sum(taken) <= len(couples))

    def _keep_couples(self, q: int, pair: PairGroup, alike: dict[Make, cp_model.IntVar]) -> Expr:
        """How many of these pairs get units that belong together. What is left of a group serves anybody."""
        first, second = self.house.need_groups[pair.first], self.house.need_groups[pair.second]
        of_make: dict[Make, list[cp_model.IntVar]] = defaultdict(list)
        halves: dict[tuple[int, int], list[cp_model.IntVar]] = defaultdict(list)
        either_way = dict.fromkeys(two for places in self.house.couples for two in (places, places[::-1]))
        for a, b in either_way:
            if (pair.first, a) not in self.units or (pair.second, b) not in self.units:
                continue
            make = self.house.make(first, self.house.unit_groups[a])
            if make in alike and make == self.house.make(second, self.house.unit_groups[b]):
                var = self.couples[q, a, b] = self.cp.new_int_var(0, pair.count, "")
                of_make[make].append(var)
                halves[pair.first, a].append(var)
                halves[pair.second, b].append(var)
        for make, variables in of_make.items():
            self.cp.add(sum(variables) <= alike[make])
        for half, variables in halves.items():
            self.cp.add(sum(variables) <= self.units[half])
        return sum(var for (k, _, _), var in self.couples.items() if k == q)

    # What is counted

    def _count_stands(self) -> None:
        snapshot, costs = self.house.snapshot, self.house.costs
        wanted: dict[str, list[Expr]] = defaultdict(list)
        for (g, p), inputs in self.units.items():
            group = self.house.need_groups[g]
            stand = stand_of(group.need)
            if stand is None:
                continue
            kinds = (stand,) if p < 0 else self.house.stands(group, self.house.unit_groups[p])
            if kinds == (stand,):
                wanted[stand].append(inputs)
                continue
            self.costs.append((costs.stronger_stand, inputs))
            for kind in kinds:
                self.stronger[g, p, kind] = self.cp.new_int_var(0, len(group.members), "")
                wanted[kind].append(self.stronger[g, p, kind])
            self.cp.add(sum(self.stronger[g, p, kind] for kind in kinds) == inputs)
        self.stands = {kind: sum(on_it) for kind, on_it in wanted.items()}
        for kind, used in self.stands.items():
            self.cp.add(used <= max(0, snapshot.stands.get(kind, 0)))

    def _count_lines_and_cables(self) -> None:
        """Of each length there are enough for all inputs that need so much or more."""
        snapshot = self.house.snapshot
        self.cp.add(sum(self.filled.values()) <= max(0, min(snapshot.lines, snapshot.recorder_inputs)))
        for length in sorted(set(self.house.cable_classes.values())):
            self.cp.add(self.runs_of(length) <= at_least(snapshot.cables or (), length))

    def runs_of(self, length_m: float) -> Expr:
        """How many inputs need so long a cable or a longer one."""
        groups = self.house.need_groups
        return sum(
            filled
            for g, filled in self.filled.items()
            if wants_cable(groups[g].need) and (groups[g].need.cable_m or 0.0) >= length_m
        )

    def _count_outlets(self) -> None:
        """One for each unit in use that has a supply of its own."""
        outlets = self.house.snapshot.mains_outlets
        if outlets is None:
            return
        plugs: list[Expr] = []
        for p, unit_group in enumerate(self.house.unit_groups):
            unit = unit_group.units[0]
            if unit.own_supply and unit.inputs > 0:
                used = self.cp.new_int_var(0, len(unit_group.units), "")
                taken = sum(var for (_, q), var in self.units.items() if q == p)
                self.cp.add(used * unit.inputs >= taken)
                plugs.append(used)
        self.cp.add(sum(plugs) <= outlets)
