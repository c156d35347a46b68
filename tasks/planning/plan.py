"""The planner's door: a snapshot in, a plan out, whatever the snapshot holds."""

from __future__ import annotations

import time
from collections.abc import Iterator

from tasks.planning.costs import Costs
from tasks.planning.groups import house_of
from tasks.planning.layout import Layout
from tasks.planning.model import Counts, Model
from tasks.planning.naming import name_everything
from tasks.planning.reasons import why
from tasks.planning.shortfall import unfilled
from tasks.planning.snapshot import Plan, PlannedInput, Snapshot, SolverReport


def plan(snapshot: Snapshot, seconds: float = 5.0, costs: Costs | None = None) -> Plan:
    """The cheapest plan that breaks no hard rule; seconds bounds the solver's time.

    What can't be met is listed with its reason and the rest is still planned. Same input, same plan.
    """
    started = time.perf_counter()
    house = house_of(snapshot, costs or Costs())
    if not house.needs:
        report = SolverReport("nothing to plan", 0.0, 0.0, time.perf_counter() - started)
        return Plan((), (), frozenset(), report)
    counts = Model(house).solve(seconds)
    layout = Layout(house, name_everything(house, counts))
    return Plan(
        inputs=tuple(_inputs(layout)),
        unfilled=tuple(unfilled(layout, p) for p in range(len(house.needs)) if p not in layout.places),
        phantom_on=frozenset((house.preamps[p].tag, bank) for p, bank in layout.on),
        solver=_report(counts, time.perf_counter() - started),
    )


def _report(counts: Counts, seconds: float) -> SolverReport:
    return SolverReport("proven" if counts.proven else "best found", counts.objective, counts.bound, seconds)


def _inputs(layout: Layout) -> Iterator[PlannedInput]:
    """Lines and recorder inputs are counted through in input order."""
    for line, p in enumerate(sorted(layout.places), start=1):
        need, place = layout.house.needs[p], layout.places[p]
        yield PlannedInput(
            number=need.number,
            label=need.label,
            source=need.source,
            pickup=need.pickup,
            unit=place.unit.tag if place.unit else None,
            unit_input=place.unit_input,
            preamp=layout.house.preamps[place.preamp].tag if place.preamp is not None else None,
            channel=place.channel,
            phantom=layout.gets_phantom(place),
            pad=layout.pad(p),
            stand=place.stand,
            line=line,
            recorder_input=line,
            why=why(layout, p),
            cable=layout.cables.get(need.number),
            patched=layout.is_patched(place),
        )
