"""A new plan gives each input back what it had, where that costs nothing."""

from __future__ import annotations

import pytest
import time_machine
from hypothesis import given, settings
from hypothesis import strategies as st

from bookings.booking import book, change
from bookings.models import Job, Session
from studio.faults import report_fault
from studio.models import Fault, Person, Room
from tasks import follow
from tasks.planning.checker import violations
from tasks.planning.costs import Costs
from tasks.planning.plan import plan
from tasks.planning.snapshot import Snapshot, Switching
from tasks.planning.steady import Had, steadied
from tests.tasks.planning_houses import house, mic, mic_need, preamp, snapshots
from tests.tasks.planning_worth import seating_of, worth
from tests.tasks.test_plan_session import MONDAY, draft, hall, job, manager

__all__ = ["hall", "job", "manager"]


def had(made: object) -> dict[str, Had]:
    spots = [(r, (r.preamp, r.channel) if r.preamp else None) for r in made.inputs]  # type: ignore[attr-defined]
    return {row.label: Had(row.unit or "", spot) for row, spot in spots}


@settings(max_examples=80, deadline=None)
@given(snapshots(), st.randoms(use_true_random=False))
def test_it_breaks_no_rule_and_costs_no_more_whatever_stood_before(
    snapshot: Snapshot, choose: object
) -> None:
    made = plan(snapshot)
    before = list(had(made).values())
    choose.shuffle(before)  # type: ignore[attr-defined]
    steady = steadied(snapshot, made, {row.label: h for row, h in zip(made.inputs, before, strict=True)})
    assert violations(snapshot, steady) == []
    assert worth(snapshot, seating_of(snapshot, steady), Costs()) == worth(
        snapshot, seating_of(snapshot, made), Costs()
    )
    assert steadied(snapshot, made, had(made)) == made


def test_units_and_channels_that_are_alike_come_back_to_their_inputs() -> None:
    units = [mic(f"M-{n}", model="Heron") for n in range(4)]
    snapshot = house([mic_need(1), mic_need(2)], units, [preamp("P-1", 4, Switching.PER_CHANNEL)])
    before = {"source 1": Had("M-3", ("P-1", 4)), "source 2": Had("M-0", ("P-1", 1))}
    rows = steadied(snapshot, plan(snapshot), before).inputs
    assert [(row.unit, row.channel) for row in rows] == [("M-3", 4), ("M-0", 1)]


@pytest.mark.django_db
def test_one_more_source_or_a_fault_elsewhere_moves_nothing_that_stands(
    job: Job, hall: Room, manager: Person
) -> None:
    def standing() -> dict[str, object]:
        inputs = Session.objects.get().plan.inputs.all()
        return {each.label: (each.unit, each.preamp_channel) for each in inputs}

    with time_machine.travel(MONDAY, tick=False):
        session = book(manager, draft(job, hall, "snare top\nrack tom"))
        before = standing()
        more = draft(job, hall, "floor tom\nsnare top\nrack tom")
        session = change(manager, session.pk, session.version, more)
        after = standing()
        assert {label: after[label] for label in before} == before
        unit, channel = after["Floor tom"]  # type: ignore[misc]
        report_fault(manager, unit, None, Fault.Effect.DEAD)
        follow.replan_stale()
        assert {label: standing()[label] for label in before} == before
        assert standing()["Floor tom"][0] != unit if "Floor tom" in standing() else True  # type: ignore[index]
        assert channel is not None
