"""What would meet an open need, the cheapest first, and each of it as a press or a link."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
import time_machine
from django.test import Client as Browser
from hypothesis import given, settings

from bookings.booking import book
from bookings.models import Job, Session
from studio.faults import report_fault, set_expected_back
from studio.models import Fault, GearUnit, MicrophoneSpec, Person, Role, Room
from tasks.planning.checker import violations
from tasks.planning.plan import plan
from tasks.planning.snapshot import Snapshot, Switching
from tasks.planning.ways_out import ways_here
from tasks.ways_out import ways_out
from tests.house import at, make_mic, make_person, make_preamp, make_room
from tests.tasks.planning_houses import house, mic, mic_need, preamp, snapshots
from tests.tasks.test_plan_session import MONDAY, draft, hall, job, manager

__all__ = ["hall", "job", "manager"]
RACK = preamp("P-1", 4, Switching.PER_CHANNEL)


def test_a_kind_that_is_free_and_a_stand_that_is_left_come_in_order_of_their_cost() -> None:
    needs = [mic_need(1, stand="clip"), mic_need(2, stand="clip")]
    units = [mic("M-1"), mic("M-2"), mic("R-1", "ribbon"), mic("S-1", "small condenser", here=False)]
    made = plan(house(needs, units, [RACK], stands={"clip": 1, "tall boom": 1}))
    assert [way.value for way in ways_here(replace_stands(needs, units), made, needs[1])] == ["tall boom"]
    short = house(needs, [units[0], *units[2:]], [RACK])
    ways = ways_here(short, plan(short), needs[1])
    assert [(way.act, way.value, way.cost) for way in ways] == [
        ("allow", "ribbon", 0.5),
        ("allow", "small condenser", 0.75),
    ]
    assert ways[0].text == "Allow a ribbon for it: R-1 is free."


def replace_stands(needs: list, units: list) -> Snapshot:  # type: ignore[type-arg]
    return house(needs, units, [RACK], stands={"clip": 1, "tall boom": 1})


@settings(max_examples=40, deadline=None)
@given(snapshots(most_needs=6, most_units=5, most_preamps=2))
def test_each_way_that_is_a_press_fills_the_input_when_it_is_planned_so(snapshot: Snapshot) -> None:
    made = plan(snapshot)
    for left in made.unfilled:
        need = next(need for need in snapshot.needs if need.number == left.number)
        for way in ways_here(snapshot, made, need):
            kinds = (*need.kinds, way.value) if way.act == "allow" else need.kinds
            other = replace(need, kinds=kinds, stand=way.value if way.act == "stand" else need.stand)
            asked = tuple(other if each.number == need.number else each for each in snapshot.needs)
            again = plan(replace(snapshot, needs=asked))
            assert len(again.unfilled) < len(made.unfilled), way
            assert violations(replace(snapshot, needs=asked), again) == []


@pytest.fixture
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(MONDAY, tick=False) as traveller:
        yield traveller


@pytest.fixture
def short(job: Job, hall: Room, manager: Person, frozen: object) -> Session:
    """Of two ribbons one is being mended until 17:00, the other is in the booth; the dynamics are the trumpets'."""
    GearUnit.objects.exclude(tag__in=["Oak", "R-1", "D-1", "Box-1"]).update(retired=True)
    make_mic("R-2", MicrophoneSpec.Transducer.RIBBON, max_spl_db=160)
    booth = make_room("Booth", site=hall.site)
    make_preamp("Elm", 4, home_room=booth)
    fault = report_fault(manager, GearUnit.objects.get(tag="R-2"), None, Fault.Effect.DEAD)
    set_expected_back(manager, fault, at("2027-03-02 17:00"))
    other = draft(job, booth, "trumpet")
    other = replace(other, title="Velvet Quarry", end=at("2027-03-02 13:00"))
    book(manager, other)
    return book(manager, draft(job, hall, "2 trumpets"))


@pytest.mark.django_db
def test_who_has_it_until_when_a_hire_and_a_move_are_each_a_link_and_secrets_are_kept(
    short: Session, manager: Person
) -> None:
    need = short.plan.unfilled.get()
    ways = ways_out(short, need, manager)
    assert [way.cost for way in ways] == sorted(way.cost for way in ways)
    said = {way.text: way for way in ways}
    [borrow] = [way for way in ways if "Borrow R-1 from Booth after" in way.text]
    assert "“Velvet Quarry” has it until then" in borrow.text
    [mend] = [way for way in ways if way.text.startswith("Wait for R-2")]
    assert (mend.cost, mend.link) == (7.0, "/gear/R-2")
    [hire] = [way for way in ways if way.text.startswith("Hire one")]
    [move] = [way for way in ways if way.text.startswith("Move the session")]
    assert borrow.cost < hire.cost < move.cost, said
    browser = Browser()
    browser.force_login(manager)
    assert 'value="ribbon"' in browser.get(hire.link).content.decode()
    assert browser.get(move.link).status_code == 200

    outsider = make_person(Role.ENGINEER, name="Femke", freelance=True)
    told = " ".join(way.text for way in ways_out(short, need, outsider))
    assert "Have R-1 after" in told
    assert "Velvet" not in told
    assert "Booth" not in told


@pytest.mark.django_db
def test_a_press_allows_a_kind_and_the_input_is_filled(short: Session, manager: Person) -> None:
    make_mic("B-1", MicrophoneSpec.Transducer.BOUNDARY, max_spl_db=160)
    need = short.plan.unfilled.get()
    browser = Browser()
    browser.force_login(manager)
    part = browser.get(
        f"/sessions/{short.pk}/inputs/ways-out/{need.number}", headers={"HX-Request": "true"}
    ).content.decode()
    assert "Allow a boundary for it: B-1 is free" in part
    assert "<html" not in part
    browser.post(f"/sessions/{short.pk}/inputs/allow", {"label": need.label, "kind": "boundary"})
    assert not Session.objects.get(pk=short.pk).plan.unfilled.exists()
    page = browser.get(f"/sessions/{short.pk}/inputs").content.decode()
    assert f"Allowed a boundary for {need.label}" in page
