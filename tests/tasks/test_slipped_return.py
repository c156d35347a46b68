"""A return date that slips: the plan that counted on the unit is made anew, and its people hear of it once."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine

from bookings.models import Session
from studio.faults import keep_overdue_out, report_fault, send_away, set_expected_back, wait_for_parts
from studio.models import Fault, GearUnit, MicrophoneSpec, Notice, Person, Role, Room
from tasks.follow import replan_stale
from tasks.models import PlannedInput
from tests.bookings.cast import called, make_session
from tests.house import at, make_mic, make_person, make_preamp, make_room, make_stock

pytestmark = pytest.mark.django_db
NOW = at("2027-03-02 09:00")


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def tech() -> Person:
    return make_person(Role.TECH)


@pytest.fixture
def ribbon() -> GearUnit:
    make_preamp("Oak", 8)
    make_stock("tall boom", 6)
    make_mic("M-1", MicrophoneSpec.Transducer.MOVING_COIL)
    return make_mic("R-1", MicrophoneSpec.Transducer.RIBBON)


def away_until(tech: Person, unit: GearUnit, back: str) -> Fault:
    fault = report_fault(tech, unit, None, Fault.Effect.DEAD)
    return send_away(tech, fault, "Brook & Daughter", expected_back=at(back))


def relying(unit: GearUnit, *people: Person, day: str = "2027-03-04") -> Session:
    """On the day after it should be back; wants it by its tag."""
    crew = [called(person, role) for person in people for role in person.roles]
    session = make_session(
        Room.objects.filter(name="Hall").first() or make_room("Hall"),
        f"{day} 10:00",
        f"{day} 18:00",
        crew=crew,
        instrument_list="trumpet",
        wanted_units=(unit.pk,),
    )
    assert uses(session) == ["R-1"]
    return session


def uses(session: Session) -> list[str]:
    rows = PlannedInput.objects.filter(plan__session=session, unit__isnull=False)
    return list(rows.values_list("unit__tag", flat=True))


def test_a_slip_plans_anew_what_it_hits_and_tells_its_engineer_and_assistant_once(
    tech: Person, ribbon: GearUnit
) -> None:
    engineer, assistant = make_person(Role.ENGINEER), make_person(Role.ASSISTANT)
    fault = away_until(tech, ribbon, "2027-03-03 12:00")
    hit = relying(ribbon, engineer, assistant)
    later = relying(ribbon, engineer, day="2027-03-09")
    for back in ("2027-03-05 12:00", "2027-03-05 12:00", "2027-03-06 12:00"):
        set_expected_back(tech, fault, at(back))
        replan_stale()
    assert uses(hit) == ["M-1"]
    assert uses(later) == ["R-1"]
    told = Notice.objects.filter(subject="R-1 will not be back for Quartet")
    assert {notice.person for notice in told} == {engineer, assistant}
    assert told.count() == 2
    notice = told[0]
    assert "R-1 was expected back Wed 3 March, 12:00, and now Fri 5 March, 12:00." in notice.text
    assert "“Quartet”, Hall, downbeat Thu 4 March, 10:00" in notice.text
    assert notice.path == f"/sessions/{hit.pk}"


def test_a_date_that_is_withdrawn_is_a_slip_and_so_is_waiting_for_parts_until_later(
    tech: Person, ribbon: GearUnit
) -> None:
    engineer = make_person(Role.ENGINEER)
    fault = away_until(tech, ribbon, "2027-03-03 12:00")
    relying(ribbon, engineer)
    wait_for_parts(tech, fault, "a ribbon", at("2027-03-07 12:00"))
    relying(ribbon, engineer, day="2027-03-09")
    set_expected_back(tech, fault, None)
    assert Notice.objects.count() == 2
    assert "nobody knows now when it will be" in Notice.objects.latest("pk").text


def test_a_date_that_passes_without_a_word_is_a_slip(
    tech: Person, ribbon: GearUnit, frozen: time_machine.Traveller
) -> None:
    engineer = make_person(Role.ENGINEER)
    away_until(tech, ribbon, "2027-03-03 12:00")
    session = relying(ribbon, engineer)
    frozen.move_to(at("2027-03-03 12:05"))
    assert keep_overdue_out() == 1
    assert keep_overdue_out() == 0
    replan_stale()
    assert uses(session) == ["M-1"]
    slip = Notice.objects.order_by("pk").first()
    assert slip
    assert "was expected back Wed 3 March, 12:00, and is not" in slip.text


def test_the_managers_hear_of_a_session_that_has_nobody_yet_and_who_set_the_date_does_not(
    ribbon: GearUnit,
) -> None:
    both = make_person(Role.MANAGER, Role.TECH, name="Aud")
    fault = away_until(both, ribbon, "2027-03-03 12:00")
    relying(ribbon)
    set_expected_back(both, fault, at("2027-03-05 12:00"))
    others = set(Person.objects.with_role(Role.MANAGER)) - {both}
    assert {notice.person for notice in Notice.objects.all()} == others


def test_an_earlier_date_a_first_date_and_a_new_fault_are_no_slips(tech: Person, ribbon: GearUnit) -> None:
    engineer = make_person(Role.ENGINEER)
    relying(ribbon, engineer)
    fault = report_fault(tech, ribbon, None, Fault.Effect.DEAD)
    set_expected_back(tech, fault, at("2027-03-08 12:00"))
    set_expected_back(tech, fault, at("2027-03-03 12:00"))
    replan_stale()
    assert not Notice.objects.exists()
