"""What the house says of cables, stands, outlets, patch points and its circuit, from the rows to plan and checklist."""

from __future__ import annotations

import pytest
import time_machine

from bookings.booking import book
from bookings.models import Job
from studio.models import (
    CableSpec,
    Claim,
    GearModel,
    MainsSpec,
    MicrophoneSpec,
    Person,
    PreampSpec,
    Room,
    StandSpec,
    Stock,
)
from studio.spans import Span
from tasks.snapshots import look
from tasks.wanted import needs_of
from tests.house import at, make_model, make_stock, make_unit
from tests.tasks.test_plan_session import MONDAY, draft, hall, job, manager

__all__ = ["hall", "job", "manager"]
pytestmark = pytest.mark.django_db


@pytest.fixture
def counted(hall: Room) -> Room:
    """Two cables of 5 m, two of 20 m; a short boom that carries 500 g, a tall one that carries 4 kg."""
    for name, length, count in (("XLR 5 m", 5, 2), ("XLR 20 m", 20, 2)):
        CableSpec.objects.create(
            stock=make_stock(name, count, kind=Stock.Kind.CABLE), ends="XLR female to male", length_m=length
        )
    lead = make_stock("lead 3 m", 9, kind=Stock.Kind.CABLE)
    CableSpec.objects.create(stock=lead, ends="jack to jack", length_m=3)
    for name, load, reach in (("short boom", 0.5, 0.6), ("tall boom", 4, 2)):
        StandSpec.objects.create(stock=Stock.objects.get(name=name), load_kg=load, reach_m=reach)
    MicrophoneSpec.objects.update(weight_g=750)
    Room.objects.filter(pk=hall.pk).update(
        cable_run_m=12, patch_points=3, mains_outlets=4, mains_v=230, circuit_a=16
    )
    hall.refresh_from_db()
    return hall


def test_a_look_carries_what_is_known_and_a_better_run_beats_the_usual_one(counted: Room) -> None:
    PreampSpec.objects.update(gain_min_db=10, gain_max_db=60, pad_db=20)
    span = Span(at("2027-03-02 08:00"), at("2027-03-02 20:00"))
    seen = look(counted, span, needs_of("lead vocal\nsnare top"), runs_m={2: 7.5}).snapshot
    assert [need.cable_m for need in seen.needs] == [12, 7.5]
    assert [(cable.name, cable.length_m, cable.count) for cable in seen.cables or ()] == [
        ("XLR 20 m", 20, 2),
        ("XLR 5 m", 5, 2),
    ]
    assert (seen.patch_points, seen.mains_outlets) == (3, 4)
    assert (seen.stand_figures["short boom"].load_kg, seen.stand_figures["straight"].load_kg) == (0.5, None)
    assert {unit.weight_kg for unit in seen.pickups if unit.pickup == "mic"} == {0.75}
    [oak] = seen.preamps
    assert (oak.least_gain_db, oak.most_gain_db, oak.pad_db) == (10, 60, 20)


def test_cables_and_the_stronger_stand_are_planned_claimed_and_on_the_checklist(
    counted: Room, job: Job, manager: Person
) -> None:
    with time_machine.travel(MONDAY, tick=False):
        session = book(manager, draft(job, counted, "snare top\nlead vocal\nacoustic guitar"))
    rows = list(session.plan.inputs.all())
    assert [(row.cable, row.stand) for row in rows] == [("XLR 20 m", "tall boom")] * 2
    taken = Claim.objects.of(session).filter(resource__stock__name__in=["XLR 20 m", "tall boom"])
    assert sorted(taken.values_list("resource__stock__name", "quantity")) == [
        ("XLR 20 m", 2),
        ("tall boom", 2),
    ]
    [left] = session.plan.unfilled.all()
    assert "No microphone cable of 12 m or more is left" in left.reason
    details = [tuple(pair) for task in session.tasks.all() for pair in task.details]
    assert ("Cable", "XLR 20 m") in details
    assert any("weighs 0.75 kg, more than the 0.5 kg that one carries" in said for said in rows[0].why)


def test_too_much_on_the_circuit_is_a_task_and_never_stops_the_plan(
    counted: Room, job: Job, manager: Person
) -> None:
    """3,000 W of 3,680 VA are 82 %."""
    model = make_model(GearModel.Kind.AMPLIFIER, "Kiln")
    MainsSpec.objects.create(gear_model=model, mains_v=230, power_w=1500, valves=True)
    for tag in ("Kiln 1", "Kiln 2"):
        make_unit(tag, model, home_room=counted)
    with time_machine.travel(MONDAY, tick=False):
        session = book(manager, draft(job, counted, "lead vocal"))
    assert session.plan.inputs.count() == 1
    task = session.tasks.get(key="mains-load")
    assert task.title == "Spread the mains load over more circuits: 82% of one"
    assert "licensed electrician" in task.caution
