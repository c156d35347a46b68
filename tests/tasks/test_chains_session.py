"""Inserts with a session: planned and claimed with its other gear, planned around what fails, chosen by hand."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.utils import timezone

from bookings.booking import book
from bookings.models import Job
from studio.faults import mend, report_fault
from studio.models import (
    DynamicsSpec,
    Fault,
    GearModel,
    GearUnit,
    MainsSpec,
    Person,
    Room,
)
from tasks import follow
from tasks.models import ChainWish, PlannedInsert, Task
from tests.house import channel, make_model, make_room, make_unit
from tests.tasks.test_plan_session import MONDAY, draft, gear_of, hall, job, manager

__all__ = ["hall", "job", "manager"]
pytestmark = pytest.mark.django_db
Kind = GearModel.Kind


@pytest.fixture(autouse=True)
def _frozen() -> object:
    with time_machine.travel(MONDAY, tick=False):
        yield


def make_insert(tag: str, kind: str = Kind.COMPRESSOR, channels: int = 2, **fields: Any) -> GearUnit:
    valves = fields.pop("valves", False)
    usual = {Kind.COMPRESSOR: ("variable", "2 4"), Kind.LIMITER: ("fixed", "20")}[Kind(kind)]
    spec = {"threshold": usual[0], "ratios": usual[1], **fields.pop("spec", {})}
    model = make_model(kind, channels=channels)
    DynamicsSpec.objects.create(gear_model=model, **spec)
    if valves:
        MainsSpec.objects.create(gear_model=model, valves=True)
    return make_unit(tag, model, **fields)


@pytest.fixture
def racks(hall: Room) -> list[GearUnit]:
    return [make_insert("Scale", home_room=hall), make_insert("Bar", Kind.LIMITER, 1, home_room=hall)]


def inserted(session: Any) -> list[tuple[str, int, str]]:
    rows = PlannedInsert.objects.filter(input__plan__session=session)
    rows = rows.select_related("input", "channel__unit").order_by("input__number", "place", "pk")
    return [(row.input.label, row.place, f"{row.channel}" if row.unit else "") for row in rows]


@pytest.mark.usefixtures("racks")
def test_a_voice_is_booked_with_its_compressor_and_limiter(hall: Room, manager: Person, job: Job) -> None:
    session = book(manager, draft(job, hall, "lead vocal"))
    assert inserted(session) in (
        [("Lead vocal", 1, f"Scale channel {c}"), ("Lead vocal", 2, "Bar channel 1")] for c in (1, 2)
    )
    first = PlannedInsert.objects.get(input__plan__session=session, place=1)
    assert ["Ratio", "4 to 1"] in first.settings
    assert first.why[0].startswith("Scale is a compressor with variable threshold")
    assert {"Scale", "Bar"} <= gear_of(session)
    titles = list(Task.objects.filter(session=session).values_list("title", flat=True))
    assert any(title.startswith("Lead vocal: patch Scale channel") for title in titles)
    assert any(title.startswith("Lead vocal: set Scale channel") for title in titles)
    again = book(manager, draft(job, hall, "lead vocal", day=3))
    assert inserted(again) == inserted(session)
    first = PlannedInsert.objects.get(input__plan__session=again, place=1)
    assert "The input had it before." in first.why


@pytest.mark.usefixtures("racks")
def test_what_another_session_has_is_not_given_out_twice_and_is_told(
    hall: Room, manager: Person, job: Job
) -> None:
    first = book(manager, draft(job, hall, "lead vocal"))
    other = make_room("Dye House", site=hall.site)
    GearUnit.objects.filter(tag__in=["Scale", "Bar"]).update(home_room=None)
    second = book(manager, draft(job, other, "lead vocal"))
    assert [spot for *_, spot in inserted(second)] in ([], ["", ""])
    for row in PlannedInsert.objects.filter(input__plan__session=second):
        assert f"session no. {first.pk}" in row.why[0]
        assert any(each.startswith("Hire a ") for each in row.help)


def test_a_dead_channel_is_planned_around_and_a_mended_unit_serves_again(
    hall: Room, manager: Person, job: Job, racks: list[GearUnit]
) -> None:
    session = book(manager, draft(job, hall, "lead vocal"))
    dead = PlannedInsert.objects.get(input__plan__session=session, place=1).channel
    assert dead is not None
    by = manager
    report_fault(by=by, unit=racks[0], channel=dead, effect=Fault.Effect.DEAD, severity=Fault.Severity.OUT)
    bar = report_fault(
        by=by, unit=racks[1], channel=None, effect=Fault.Effect.DEAD, severity=Fault.Severity.OUT
    )
    assert follow.replan_stale() == 1
    other = channel(racks[0], 3 - dead.number)
    assert inserted(session) == [("Lead vocal", 1, str(other)), ("Lead vocal", 2, "")]
    assert "Bar: out of use" in PlannedInsert.objects.get(input__plan__session=session, place=2).why[0]
    mend(by, bar, "new lamp", heard=True)
    assert follow.replan_stale() == 1
    assert inserted(session)[1] == ("Lead vocal", 2, "Bar channel 1")


@pytest.mark.usefixtures("racks")
def test_what_is_chosen_by_hand_goes_before_the_catalogue_and_valves_bring_their_caution(
    hall: Room, manager: Person, job: Job
) -> None:
    make_insert("Lamp", channels=1, valves=True, storage="trolley")
    session = book(manager, draft(job, hall, "lead vocal"))
    ChainWish.objects.create(
        session=session, label="Lead vocal", inserts=["valve compressor"], by=manager, at=timezone.now()
    )
    follow.replan(session.pk)
    assert inserted(session) == [("Lead vocal", 1, "Lamp channel 1")]
    tasks = {task.title: task for task in Task.objects.filter(session=session)}
    assert "Never open it" in tasks["Switch on and warm up Lamp"].caution
    assert "protective earth" in tasks["Switch on and warm up Lamp"].caution
    assert "Fetch Lamp from Mill Lane, trolley" in tasks
    ChainWish.objects.update(inserts=[], at=timezone.now() + timedelta(seconds=1))
    follow.replan(session.pk)
    assert inserted(session) == []
    assert "Lamp" not in gear_of(session)
