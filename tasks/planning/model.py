"""The allocation as a CP-SAT model over groups: how many of what, not yet which.

Units: for each group of like inputs, how many get each group of like units. Channels: for each run of like
channels, how many singles and how many neighbouring twos it carries of each demand. A run of L like channels
holds any s singles and k twos with s + 2k <= L, so counting loses nothing; a two that straddles the border of
two runs has a variable of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

from ortools.sat.python import cp_model

from tasks.planning.costs import unfilled_costs
from tasks.planning.groups import House, Make, Run, accepts, supply_of
from tasks.planning.rules import GAIN_UNKNOWN, Demand, Feed
from tasks.planning.snapshot import Switching
from tasks.planning.unit_model import Expr, UnitModel

WORK_PER_SECOND = 0.15


@dataclass(frozen=True, slots=True)
class Counts:
    """The solved counts; only entries above zero.

    units: (need group, unit group or -1 for line level) to inputs. neighbours: (pair group, make) to pairs.
    couples: (pair group, unit group of the first half, of the second) to pairs that get units which belong together.
    stands: (need group, unit group, kind of stand) to inputs, where there is a choice.
    singles, twos: (run, demand) to how many. straddling: (run, next run, demand).
    """

    units: dict[tuple[int, int], int]
    neighbours: dict[tuple[int, Make], int]
    couples: dict[tuple[int, int, int], int]
    stands: dict[tuple[int, int, str], int]
    singles: dict[tuple[int, Demand], int]
    twos: dict[tuple[int, Demand], int]
    straddling: tuple[tuple[int, int, Demand], ...]
    objective: float
    bound: float
    proven: bool


class Model(UnitModel):
    """Builds and solves the model of one house. Several that compete can stand in one cp."""

    def __init__(self, house: House, cp: cp_model.CpModel | None = None) -> None:
        super().__init__(house, cp or cp_model.CpModel())
        self.singles: dict[tuple[int, Demand], cp_model.IntVar] = {}
        self.twos: dict[tuple[int, Demand], cp_model.IntVar] = {}
        self.straddling: dict[tuple[int, int, Demand], cp_model.IntVar] = {}
        self.switch_on: dict[tuple[int, int], cp_model.IntVar] = {}
        self.demands = sorted(
            {
                house.demand(group, house.unit_groups[p])
                for group in house.need_groups
                for p in house.choices(group)
            }
        )
        self._allot_channels()
        self._set_switches()
        self._limit_current()
        self._keep_the_patch_short()
        self._count_patch_points()
        self._weigh()

    # Channels

    def _allot_channels(self) -> None:
        for r, run in enumerate(self.house.runs):
            for demand in self.demands:
                if accepts(self.house, run, demand):
                    self.singles[r, demand] = self.cp.new_int_var(0, run.size, "")
                    if run.size > 1 and self.house.pair_groups:
                        self.twos[r, demand] = self.cp.new_int_var(0, run.size // 2, "")
        for a, b in self.house.joins if self.house.pair_groups else ():
            both = [d for d in self.demands if (a, d) in self.singles and (b, d) in self.singles]
            self.straddling |= {(a, b, d): self.cp.new_bool_var("") for d in both}
            self.cp.add_at_most_one(self.straddling[a, b, d] for d in both)
        for demand in self.demands:
            self._carry(demand)

    def _carry(self, demand: Demand) -> None:
        """Every input of this demand has a channel, every pair kept together has two neighbours."""
        groups, units = self.house.need_groups, self.house.unit_groups
        asked = sum(
            var
            for (g, p), var in self.units.items()
            if p >= 0 and self.house.demand(groups[g], units[p]) == demand
        )
        pairs = sum(var for (_, make), var in self.neighbours.items() if make[1] == demand)
        across = sum(var for (_, _, d), var in self.straddling.items() if d == demand)
        twos = across + sum(var for (_, d), var in self.twos.items() if d == demand)
        self.cp.add(twos == pairs)
        self.cp.add(sum(var for (_, d), var in self.singles.items() if d == demand) + 2 * twos == asked)

    def inputs_on(
        self, r: int, feed: Feed | None = None, draw: int | None = None, gain: int | None = None
    ) -> Expr:
        """How many channels of the run carry an input (of this feed, of this draw, of this gain)."""

        def fits(demand: Demand) -> bool:
            asked = ((feed, demand.feed), (draw, demand.draw), (gain, demand.gain))
            return all(want is None or want == has for want, has in asked)

        singles = sum(self.singles[r, d] for d in self.demands if (r, d) in self.singles and fits(d))
        twos = sum(self.twos[r, d] for d in self.demands if (r, d) in self.twos and fits(d))
        ends = sum(var for (a, b, d), var in self.straddling.items() if r in (a, b) and fits(d))
        return singles + 2 * twos + ends

    def _set_switches(self) -> None:
        """A shared switch is on or off, for inputs that need it on or for inputs that need it off."""
        for r, run in enumerate(self.house.runs):
            if run.switch is None:
                continue
            key = run.preamp, run.switch
            if key not in self.switch_on:
                self.switch_on[key] = self.cp.new_bool_var("")
                self.costs.append((self.house.costs.phantom_switch_on, self.switch_on[key]))
            self.cp.add(self.inputs_on(r, Feed.ON) <= run.size * self.switch_on[key])
            self.cp.add(self.inputs_on(r, Feed.OFF) <= run.size * (1 - self.switch_on[key]))

    def _limit_current(self) -> None:
        for place in sorted(self.house.tight):
            drawn = [self._drawn(r, run) for r, run in enumerate(self.house.runs) if run.preamp == place]
            self.cp.add(sum(drawn) <= supply_of(self.house.preamps[place]))

    def _drawn(self, r: int, run: Run) -> Expr:
        """Hundredths of a milliampere out of this run. What doesn't mind phantom draws where it is live."""
        if not run.feeds:
            return 0
        drawing = [demand for demand in self.demands if demand.draw]
        needed = [d.draw * self.inputs_on(r, Feed.ON, d.draw) for d in drawing if d.feed is Feed.ON]
        return sum(needed) + sum(d.draw * self._live(r, run, d) for d in drawing if d.feed is Feed.ANY)

    def _live(self, r: int, run: Run, demand: Demand) -> Expr:
        """Inputs of a demand that doesn't mind which nevertheless sit on a live channel of this run."""
        inputs = self.inputs_on(r, Feed.ANY, demand.draw)
        if self.house.preamps[run.preamp].switching is Switching.ALWAYS_ON:
            return inputs
        if run.switch is None:
            return 0
        live = self.cp.new_int_var(0, run.size, "")
        self.cp.add(live >= inputs - run.size * (1 - self.switch_on[run.preamp, run.switch]))
        return live

    def _keep_the_patch_short(self) -> None:
        """The first preamp in rack order is filled first; each further one costs each of its inputs more."""
        costs = self.house.costs
        for r, run in enumerate(self.house.runs):
            preamp, inputs = self.house.preamps[run.preamp], self.inputs_on(r)
            self.cp.add(inputs <= run.size)
            cost = run.preamp * costs.further_preamp + costs.fetched * (not preamp.here)
            cost += costs.has_a_limit * run.limited + costs.last_choice * run.last_choice
            self.costs.append((cost, inputs))
            if run.may_be_noisy and not run.last_choice:
                self.costs.append((costs.last_choice, self.inputs_on(r, gain=GAIN_UNKNOWN)))
            if preamp.switching is Switching.PER_CHANNEL:
                self.costs.append((costs.phantom_switch_on, self.inputs_on(r, Feed.ON)))

    def _count_patch_points(self) -> None:
        """One for each input on a preamp that the room's lines don't reach by themselves."""
        points = self.house.snapshot.patch_points
        far = [r for r, run in enumerate(self.house.runs) if not self.house.preamps[run.preamp].here]
        if points is not None and far:
            self.cp.add(sum(self.inputs_on(r) for r in far) <= points)

    # Costs and solving

    def _most_of_the_rest(self) -> int:
        house, costs = self.house, self.house.costs
        picks = sum(
            len(group.members)
            * max((house.cost(group, house.unit_groups[p]) for p in house.choices(group)), default=0)
            for group in house.need_groups
        )
        pairs = sum(pair.count for pair in house.pair_groups) * (
            costs.split_pair + costs.unmatched_pair + costs.pair_apart
        )
        preamps = len(house.needs) * (len(house.preamps) * costs.further_preamp + costs.fetched)
        channels = sum(run.size for run in house.runs) * (costs.phantom_switch_on + costs.has_a_limit)
        doubted = [run for run in house.runs if run.last_choice or run.may_be_noisy]
        channels += sum(run.size for run in doubted) * costs.last_choice
        stands = len(house.needs) * costs.stronger_stand
        return picks + pairs + preamps + channels + stands

    def _weigh(self) -> None:
        most = self._most_of_the_rest()
        self.most = most
        self.left_out = unfilled_costs(self.house.needs, most)
        self.worst = float(most + sum(self.left_out[need.priority] for need in self.house.needs))

    def cost(self, left_out: Mapping[int, int]) -> Expr:
        """What is to be as small as it can be; left_out: for each priority the cost of leaving one input out."""
        missed = [
            left_out[group.need.priority] * (len(group.members) - self.filled[g])
            for g, group in enumerate(self.house.need_groups)
        ]
        return sum(missed) + sum(cost * what for cost, what in self.costs if cost)

    def solve(self, seconds: float) -> Counts:
        """The best counts found; all empty where the time was too short for any."""
        self.cp.minimize(self.cost(self.left_out))
        solver = solver_of(max(0.0, seconds))
        status = solver.solve(self.cp)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Counts({}, {}, {}, {}, {}, {}, (), self.worst, 0.0, False)
        return Counts(
            units=_above_zero(solver, self.units),
            neighbours=_above_zero(solver, self.neighbours),
            couples=_above_zero(solver, self.couples),
            stands=_above_zero(solver, self.stronger),
            singles=_above_zero(solver, self.singles),
            twos=_above_zero(solver, self.twos),
            straddling=tuple(_above_zero(solver, self.straddling)),
            objective=float(round(solver.objective_value)),
            bound=float(round(solver.best_objective_bound)),
            proven=status == cp_model.OPTIMAL,
        )


def solver_of(seconds: float) -> cp_model.CpSolver:
    """One worker and a fixed seed; the limit on counted work is usually reached before the clock.

    So even an unfinished plan comes out the same each time. The models are small and nearly linear: the
    linear relaxation, cut at the objective, proves them, while probing and symmetry search cost more than they save.
    """
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.linearization_level = 2
    solver.parameters.add_objective_cut = True
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.symmetry_level = 0
    solver.parameters.max_time_in_seconds = 2 * seconds  # on a busy machine the count decides, not the clock
    solver.parameters.max_deterministic_time = seconds * WORK_PER_SECOND
    return solver


K = TypeVar("K")


def _above_zero(solver: cp_model.CpSolver, variables: dict[K, cp_model.IntVar]) -> dict[K, int]:
    return {key: value for key, var in variables.items() if (value := solver.value(var)) > 0}
