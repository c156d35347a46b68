"""Sessions that compete for the same units, weighed in one model, so that all together lack least.

Each comes with a snapshot of what it could use if the others weren't there. The model decides how what they
share is split; each is then planned with its own share, and loses nothing by that.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from tasks.planning.carrying import reach_of
from tasks.planning.costs import Costs, unfilled_costs
from tasks.planning.groups import house_of
from tasks.planning.model import Model, solver_of
from tasks.planning.snapshot import CableKind, Plan, Snapshot

Place = tuple[int | None, ...]
"""The place of a unit's group in the house of each session; None where that session can't have it."""


@dataclass(frozen=True, slots=True)
class GivenUp:
    """What an input would have had if the other sessions weren't there, who has it now, and what it got."""

    label: str
    unit: str
    holder: int
    holder_label: str
    instead: str | None


def shares(
    snapshots: Sequence[Snapshot], seconds: float = 5.0, costs: Costs | None = None
) -> tuple[Snapshot, ...] | None:
    """Each session's snapshot cut down to its share; None where the time was too short for any answer.

    A unit or a preamp goes to one session, and stands of one kind are counted once for all. Inputs left out
    weigh the same in every session, lead parts first. What nobody needs goes to the first that could have it.
    """
    return _Split(snapshots, costs or Costs()).solve(seconds)


class _Split:
    def __init__(self, snapshots: Sequence[Snapshot], costs: Costs) -> None:
        self.snapshots = snapshots
        self.cp = cp_model.CpModel()
        had = frozenset(need.had for snapshot in snapshots for need in snapshot.needs)
        self.models = [Model(house_of(snapshot, costs, had, shared=True), self.cp) for snapshot in snapshots]
        self.tags = self._tags_by_place()
        self.units: dict[tuple[int, Place], cp_model.IntVar] = {}
        self.racks: dict[tuple[int, str], cp_model.IntVar] = {}
        self.cables: dict[tuple[int, str], cp_model.IntVar] = {}
        self._share_units()
        self._share_racks()
        self._share_stands()
        self._share_cables()
        self._weigh()

    def _tags_by_place(self) -> dict[Place, list[str]]:
        places: dict[str, list[int | None]] = defaultdict(lambda: [None] * len(self.models))
        for s, model in enumerate(self.models):
            for p, group in enumerate(model.house.unit_groups):
                for unit in group.units:
                    places[unit.tag][s] = p
        found: dict[Place, list[str]] = defaultdict(list)
        for tag, place in sorted(places.items()):
            found[tuple(place)].append(tag)
        return found

    def _share_units(self) -> None:
        for place, tags in self.tags.items():
            takers = [s for s, p in enumerate(place) if p is not None]
            for s in takers:
                self.units[s, place] = self.cp.new_int_var(0, len(tags), "")
            self.cp.add(sum(self.units[s, place] for s in takers) <= len(tags))
        for s, model in enumerate(self.models):
            for p, group in enumerate(model.house.unit_groups):
                asked = sum(var for (_, q), var in model.units.items() if q == p)
                handed = sum(var for (t, place), var in self.units.items() if t == s and place[s] == p)
                self.cp.add(asked <= max(0, group.units[0].inputs) * handed)

    def _share_racks(self) -> None:
        takers = defaultdict(list)
        for s, model in enumerate(self.models):
            for r, rack in enumerate(model.house.preamps):
                mine = self.racks[s, rack.tag] = self.cp.new_bool_var("")
                takers[rack.tag].append(mine)
                for run_number, run in enumerate(model.house.runs):
                    if run.preamp == r:
                        self.cp.add(model.inputs_on(run_number) <= run.size * mine)
        for those in takers.values():
            self.cp.add_at_most_one(those)

    def _share_stands(self) -> None:
        for kind in sorted({kind for model in self.models for kind in model.stands}):
            users = [model.stands[kind] for model in self.models if kind in model.stands]
            self.cp.add(sum(users) <= max(snapshot.stands.get(kind, 0) for snapshot in self.snapshots))

    def _share_cables(self) -> None:
        """Each takes so many of each length as its inputs need; of two lengths that do, one is taken."""
        kinds = {cable.name: cable for snapshot in self.snapshots for cable in snapshot.cables or ()}
        for name in kinds:
            most = max(c.count for s in self.snapshots for c in s.cables or () if c.name == name)
            takes = [self.cp.new_int_var(0, max(0, most), "") for _ in self.models]
            self.cables |= {(s, name): take for s, take in enumerate(takes)}
            self.cp.add(sum(takes) <= max(0, most))
        for s, model in enumerate(self.models):
            for length in sorted(set(model.house.cable_classes.values())):
                reach = (self.cables[s, name] for name, cable in kinds.items() if reach_of(cable) >= length)
                self.cp.add(model.runs_of(length) <= sum(reach))

    def _weigh(self) -> None:
        needs = [need for snapshot in self.snapshots for need in snapshot.needs]
        left_out = unfilled_costs(needs, sum(model.most for model in self.models))
        self.cp.minimize(sum(model.cost(left_out) for model in self.models))

    def solve(self, seconds: float) -> tuple[Snapshot, ...] | None:
        solver = solver_of(max(0.0, seconds))
        if solver.solve(self.cp) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        units = self._units_of(solver)
        racks = self._racks_of(solver)
        stands = self._stands_of(solver)
        return tuple(
            replace(
                snapshot,
                pickups=tuple(unit for unit in snapshot.pickups if units[unit.tag] == s),
                preamps=tuple(rack for rack in snapshot.preamps if racks[rack.tag] == s),
                stands=stands[s],
                cables=self._cables_of(solver, s),
            )
            for s, snapshot in enumerate(self.snapshots)
        )

    def _units_of(self, solver: cp_model.CpSolver) -> dict[str, int]:
        owner: dict[str, int] = {}
        for place, tags in self.tags.items():
            takers = [s for s, p in enumerate(place) if p is not None]
            order = [s for s in takers for _ in range(solver.value(self.units[s, place]))]
            owner |= dict(zip(tags, order + [takers[0]] * len(tags), strict=False))
        return owner

    def _racks_of(self, solver: cp_model.CpSolver) -> dict[str, int]:
        owner: dict[str, int] = {}
        for (s, tag), mine in self.racks.items():
            if solver.value(mine) or tag not in owner:
                owner[tag] = s
        return owner

    def _stands_of(self, solver: cp_model.CpSolver) -> list[dict[str, int]]:
        """What each uses; the first has what is left, as far as it could have it."""
        shared = [{kind: solver.value(used) for kind, used in model.stands.items()} for model in self.models]
        for kind, free in self.snapshots[0].stands.items():
            shared[0][kind] = free - sum(part.get(kind, 0) for part in shared[1:])
        return shared

    def _cables_of(self, solver: cp_model.CpSolver, s: int) -> tuple[CableKind, ...] | None:
        """What the session takes; the first has what is left too, as far as it could have it."""
        cables = self.snapshots[s].cables
        if cables is None:
            return None
        others = [t for t in range(len(self.models)) if t != s]
        return tuple(
            replace(
                cable,
                count=cable.count - sum(solver.value(self.cables[t, cable.name]) for t in others)
                if s == 0
                else solver.value(self.cables[s, cable.name]),
            )
            for cable in cables
        )


def lacking(plans: Sequence[tuple[Snapshot, Plan]], costs: Costs | None = None) -> tuple[float, ...]:
    """How many lead, ordinary and dispensable inputs are left out in all, and what the rest costs. Less is better."""
    left_out, rest = Counter[int](), 0.0
    for snapshot, plan in plans:
        priorities = {need.number: need.priority for need in snapshot.needs}
        missing = [priorities[each.number] for each in plan.unfilled]
        left_out.update(missing)
        if plan.solver.objective:
            weights = Model(house_of(snapshot, costs or Costs())).left_out
            rest += plan.solver.objective - sum(weights[priority] for priority in missing)
    return (*(left_out[priority] for priority in (1, 2, 3)), rest)


def given_up(alone: Sequence[Plan], got: Sequence[Plan], session: int) -> list[GivenUp]:
    """What the session's inputs would have had by themselves and somebody else has now, in input order."""
    holders = {
        row.unit: (other, row.label)
        for other, plan in enumerate(got)
        for row in plan.inputs
        if row.unit and other != session
    }
    now = {row.number: row.unit for row in got[session].inputs}
    return [
        GivenUp(row.label, row.unit, *holders[row.unit], now.get(row.number))
        for row in alone[session].inputs
        if row.unit in holders and row.unit != now.get(row.number)
    ]
