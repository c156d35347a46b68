"""Hired gear counts between arrival and return only, with a task at both ends; so has gear of another site."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
import time_machine

from bookings.booking import book
from bookings.models import Crew, Job, Rental, Session
from bookings.rentals import hiring, units
from studio.faults import mend, report_fault
from studio.gear.queries import whole_units
from studio.gear.state import state_of
from studio.models import Claim, Fault, GearUnit, Notice, Person, Role, Room
from studio.spans import Span
from studio.whereabouts import moves
from tasks import follow
from tests.bookings.cast import browser_of, said
from tests.house import BERLIN, make_mic, make_person, make_room, make_site
from tests.tasks.test_plan_session import MONDAY, draft, gear_of, hall, job, manager

__all__ = ["hall", "job", "manager"]

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(MONDAY, tick=False) as traveller:
        yield traveller


@pytest.fixture
def session(job: Job, hall: Room, manager: Person) -> Session:
    return book(manager, draft(job, hall, "lead vocal\nsnare top"))


@pytest.fixture
def rental(session: Session, manager: Person) -> Rental:
    return hired(session, manager)


def hired(session: Session, manager: Person, hours: int = 0) -> Rental:
    arrives, back = session.setup_at + timedelta(hours=hours), session.clear_at + timedelta(hours=2)
    return hiring.hire_in(manager, session, "ribbon", "Larch Hire", None, arrives, back)


def titles(session: Session) -> list[str]:
    follow.replan_stale()
    return list(session.tasks.order_by("order").values_list("title", flat=True))


def state(unit: GearUnit) -> str:
    return state_of(whole_units().get(pk=unit.pk)).words


def entered(rental: Rental, manager: Person) -> GearUnit:
    model = GearUnit.objects.filter(gear_model__kind="microphone").first().gear_model
    return units.enter_unit(manager, rental, model, "Hire 1")


def away(unit: GearUnit) -> list[Span]:
    found = Claim.objects.filter(resource=unit.resource, purpose=Claim.Purpose.NOT_HERE).order_by("starts")
    return [claim.span for claim in found]


def test_a_hire_is_a_task_at_both_ends_until_it_is_called_off(
    session: Session, rental: Rental, manager: Person
) -> None:
    assert titles(session)[0] == "Take in ribbon (Larch Hire)"
    assert titles(session)[-1] == "Give back ribbon (Larch Hire)"
    hiring.call_off(manager, rental)
    assert not [title for title in titles(session) if "ribbon" in title]


def test_a_hired_unit_is_in_the_house_only_between_arrival_and_return(
    session: Session, rental: Rental, manager: Person, frozen: time_machine.Traveller
) -> None:
    unit = entered(rental, manager)
    assert unit.owner == "Larch Hire"
    assert away(unit) == [Span(MONDAY, rental.arrives_at), Span(rental.back_at, None)]
    early = rental.arrives_at - timedelta(hours=1)
    frozen.move_to(early)
    hiring.step(manager, rental, "arrived")
    assert away(unit) == [Span(MONDAY, early), Span(rental.back_at, None)]
    frozen.move_to(rental.back_at - timedelta(hours=1))
    hiring.step(manager, rental, "returned")
    unit.refresh_from_db()
    assert unit.retired
    assert away(unit)[-1] == Span(rental.back_at - timedelta(hours=1), None)


def test_the_planner_takes_a_hired_unit_where_it_is_here_for_the_whole_session(
    session: Session, manager: Person
) -> None:
    GearUnit.objects.filter(gear_model__kind="microphone").update(retired=True)
    late = hired(session, manager, hours=1)
    unit = entered(late, manager)
    follow.replan_soon([session.pk])
    follow.replan_stale()
    assert "Hire 1" not in gear_of(session)
    hiring.call_off(manager, late)
    unit.delete()
    entered(hired(session, manager), manager)
    follow.replan_stale()
    assert "Hire 1" in gear_of(session)


def test_what_has_not_arrived_in_time_is_missing_until_it_arrives(
    rental: Rental, manager: Person, frozen: time_machine.Traveller
) -> None:
    unit = entered(rental, manager)
    assert units.raise_late() == 0
    frozen.move_to(rental.arrives_at)
    assert (units.raise_late(), units.raise_late()) == (1, 0)
    assert state(unit).startswith("missing since")
    frozen.move_to(rental.arrives_at + timedelta(minutes=20))
    hiring.step(manager, rental, "arrived")
    assert state(unit) == "works"


def test_a_hired_unit_that_breaks_is_away_as_agreed_once_it_is_mended_and_can_be_given_back_broken(
    rental: Rental, manager: Person, frozen: time_machine.Traveller
) -> None:
    unit = entered(rental, manager)
    hiring.step(manager, rental, "arrived")
    gone = (Claim.Purpose.NOT_HERE, Span(rental.back_at, None))
    assert [(c.purpose, c.span) for c in held(unit)] == [gone]
    fault = report_fault(manager, unit, None, Fault.Effect.DEAD)
    assert [(c.purpose, c.span) for c in held(unit)] == [
        (Claim.Purpose.REPAIR, Span(MONDAY, rental.back_at)),
        gone,
    ]
    mend(manager, fault, "new capsule", heard=True)
    assert [(c.purpose, c.span) for c in held(unit)] == [gone]
    report_fault(manager, unit, None, Fault.Effect.DEAD)
    frozen.shift(timedelta(hours=1))
    hiring.step(manager, rental, "returned")
    assert [c.purpose for c in held(unit) if c.ends is None] == [Claim.Purpose.NOT_HERE]


def held(unit: GearUnit) -> list[Claim]:
    """When it can't be had, whoever has it else."""
    found = Claim.objects.filter(resource=unit.resource_id).exclude(purpose=Claim.Purpose.GEAR)
    return list(found.order_by("starts", "pk"))


def test_a_hire_that_comes_later_is_planned_without_and_its_people_are_told_once(
    rental: Rental, session: Session, manager: Person
) -> None:
    unit = entered(rental, manager)
    session.wanted_units.add(unit)
    assert follow.replan(session.pk)
    assert unit.tag in gear_of(session)
    engineer = make_person(Role.ENGINEER)
    Crew.objects.create(
        session=session, person=engineer, role=Role.ENGINEER, call_at=session.setup_at, until=session.clear_at
    )
    later = said_at(session.downbeat + timedelta(hours=1))
    typed = {"what": "ribbon", "supplier": "Larch Hire", "cost": "30", "arrives_at": later}
    typed["back_at"] = said_at(rental.back_at)
    desk = browser_of(manager)
    page = desk.post(f"/rentals/{rental.pk}/change", typed | {"back_at": later})
    assert "It can't go back before it arrives" in said(page)
    for _ in range(2):
        page = desk.post(f"/rentals/{rental.pk}/change", typed, follow=True)
    assert "ribbon: not ordered yet, arrives after the downbeat" in said(page)
    letter = Notice.objects.get()
    assert letter.person == engineer
    assert "is hired in from" in letter.text
    assert "Take in ribbon (Larch Hire)" in titles(session)
    assert unit.tag not in gear_of(session)
    assert session.history.filter(what="rental", words__startswith="Hired in otherwise").count() == 1


def test_what_was_claimed_until_now_is_not_in_the_way_of_what_is_claimed_from_now(
    rental: Rental, manager: Person
) -> None:
    with time_machine.travel(MONDAY, tick=True):
        unit = entered(rental, manager)
        before = rental.arrives_at
        back = rental.back_at + timedelta(hours=3)
        hiring.change(manager, rental, "ribbon", "", None, before, back)
    assert [c.starts for c in held(unit) if c.ends is None] == [back]


def said_at(instant: datetime) -> str:
    return f"{instant.astimezone(BERLIN):%Y-%m-%dT%H:%M}"


def test_the_form_asks_for_a_free_tag_and_a_kind(rental: Rental, manager: Person) -> None:
    desk, address = browser_of(manager), f"/rentals/{rental.pk}/unit"
    taken = GearUnit.objects.first().tag
    assert desk.get(address).status_code == 200
    assert "Choose a model that is the same" in said(desk.post(address, {"tag": "X"}))
    page = desk.post(address, {"tag": taken, "kind": "compressor"})
    assert (page.status_code, "a tag that nothing else in the house has" in said(page)) == (422, True)
    page = desk.post(address, {"tag": "Hire 9", "kind": "compressor", "channels": "2"}, follow=True)
    assert "in the house as Hire 9" in said(page)
    assert GearUnit.objects.get(tag="Hire 9").channels.count() == 2


def test_gear_of_another_site_is_claimed_with_its_way_and_carried_both_ways(
    job: Job, hall: Room, manager: Person
) -> None:
    far = make_mic("Far-1", home_room=make_room("Yard", site=make_site("Quay")))
    session = book(manager, draft(job, hall, "lead vocal", wanted_units=(far.pk,)))
    claim = Claim.objects.get(resource=far.resource)
    way = timedelta(minutes=moves.BETWEEN_SITES_MINUTES)
    assert claim.span == Span(session.setup_at - way, session.clear_at + way)
    assert "Carry Far-1 from Yard, Quay" in titles(session)
    assert titles(session)[-1] == "Carry Far-1 back to Quay"


def test_what_stands_in_another_room_than_it_lives_in_is_fetched_from_there(
    session: Session, manager: Person
) -> None:
    attic = make_room("Attic", site=session.room.site)
    for mic in GearUnit.objects.filter(gear_model__kind="microphone"):
        moves.here(manager, mic, attic)
    follow.replan_soon([session.pk])
    said_then = titles(session)
    tag = Session.objects.get(pk=session.pk).plan.inputs.exclude(unit=None)[0].unit.tag
    assert f"Carry {tag} from Attic, {session.room.site.name}" in said_then
