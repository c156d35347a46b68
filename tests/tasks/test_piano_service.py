"""The piano of a room is tuned before the sessions there that have one on their list, in a room to itself."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pytest
import time_machine
from django.utils import timezone

from bookings.models import Session
from bookings.needs import needs_of
from studio.models import Claim, GearModel, GearUnit, Person, Role, ServiceDone, ServicePlan
from studio.service.doing import done, take_slot
from studio.service.rounds import key_of
from studio.service.slots import falling_due
from tasks.piano import UNTUNED
from tests.bookings.cast import browser_of, make_session, manager, said
from tests.house import at, make_model, make_person, make_room, make_unit

pytestmark = pytest.mark.django_db
NOW = at("2027-03-02 09:00")


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def grand() -> GearUnit:
    model = make_model(GearModel.Kind.INSTRUMENT, "Concert grand piano")
    return make_unit("Grand", model, home_room=make_room("Hall"))


def tuning_of(grand: GearUnit) -> ServicePlan:
    return ServicePlan.objects.create(
        what="Tune", unit=grand, before_use_days=3, takes_room=True, minutes=120, starts_on=date(2027, 1, 1)
    )


def test_the_session_with_a_piano_asks_for_a_tuning_the_one_without_does_not(grand: GearUnit) -> None:
    tuning_of(grand)
    assert grand.home_room
    make_session(grand.home_room, "2027-03-03 10:00", "2027-03-03 18:00", instrument_list="lead vocal")
    assert falling_due() == []
    make_session(
        grand.home_room, "2027-03-04 12:00", "2027-03-04 18:00", title="Trio", instrument_list="grand piano"
    )
    make_session(make_room("Loft"), "2027-03-03 10:00", "2027-03-03 18:00", instrument_list="grand piano")
    (item,) = falling_due()
    assert item.reason.endswith("before “Trio”, Thu 4 March, 12:00")
    assert item.offered == at("2027-03-02 10:00")


def test_the_slot_keeps_the_room_quiet_and_the_morning_list_no_longer_misses_a_tuner(grand: GearUnit) -> None:
    plan, tech = tuning_of(grand), make_person(Role.TECH)
    assert grand.home_room
    session = make_session(
        grand.home_room, "2027-03-04 12:00", "2027-03-04 18:00", title="Trio", instrument_list="grand piano"
    )
    found = Session.objects.with_all().filter(pk=session.pk)
    assert UNTUNED in needs_of(list(found), timezone.now())[session.pk]
    take_slot(tech, plan, key_of(grand), at("2027-03-04 09:30"))
    assert UNTUNED not in needs_of(list(found), timezone.now())[session.pk]
    assert Claim.objects.filter(resource=grand.home_room.resource, purpose="upkeep").exists()
    board = said(browser_of(manager()).get("/board?day=2027-03-04"))
    assert "Tune" in board


def test_the_hours_at_the_piano_are_those_of_its_sessions(grand: GearUnit) -> None:
    plan = ServicePlan.objects.create(
        what="Voice the hammers", unit=grand, every_hours=6, minutes=60, starts_on=date(2027, 1, 1)
    )
    tech: Person = make_person(Role.TECH)
    assert grand.home_room
    with time_machine.travel(at("2027-02-20 12:00"), tick=False):
        make_session(
            grand.home_room, "2027-02-26 10:00", "2027-02-26 18:00", instrument_list="grand piano, vocal"
        )
    (item,) = falling_due()
    assert item.reason.startswith("8 of 6 hours of use")
    service = done(tech, plan, key_of(grand), "voiced")
    assert isinstance(service, ServiceDone)
    assert service.hours_used == 8
