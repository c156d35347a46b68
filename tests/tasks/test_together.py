"""Sessions of the same hours in different rooms: who gets what is weighed for all of them, and said."""

from __future__ import annotations

from typing import Any

import pytest
import time_machine

from bookings.booking import book, cancel
from bookings.models import Job, Session
from studio.models import Claim, Person, PreampSpec, Room
from tasks import together
from tasks.models import Pin, Plan
from tasks.planning.together import shares
from tasks.together import weigh, weigh_waiting
from tests.bookings.cast import browser_of, said
from tests.house import make_preamp, make_room
from tests.tasks.test_plan_session import MONDAY, _frozen, draft, hall, job, manager

__all__ = ["MONDAY", "_frozen", "hall", "job", "manager"]
pytestmark = pytest.mark.django_db
CHOOSY = "trumpet (must be ribbon)"
EASY = "trumpet"


@pytest.fixture
def loft(hall: Room) -> Room:
    room = make_room("Drying Loft", hall.site, setup_minutes=90, turnaround_minutes=60)
    make_preamp("Ash", 4, home_room=room, switching=PreampSpec.Switching.PER_CHANNEL)
    return room


@pytest.fixture
def easy(manager: Person, job: Job, hall: Room) -> Session:
    """Comes first and takes the only ribbon, which it could do without."""
    return book(manager, draft(job, hall, EASY))


@pytest.fixture
def choosy(easy: Session, manager: Person, job: Job, loft: Room) -> Session:
    return book(manager, draft(job, loft, CHOOSY))


def units(session: Session) -> list[str | None]:
    return [row.unit.tag if row.unit else None for row in Plan.objects.get(session=session).inputs.all()]


def claimed(session: Session) -> set[str]:
    gear = session.claims.filter(purpose=Claim.Purpose.GEAR).select_related("resource")
    return {claim.resource.name for claim in gear if claim.resource.kind == "unit"}


def test_the_one_who_can_do_with_another_gives_way_and_both_pages_say_so(
    easy: Session, choosy: Session, manager: Person
) -> None:
    assert units(easy) == ["R-1"]
    assert units(choosy) == []
    assert weigh_waiting() == 1
    assert units(choosy) == ["R-1"]
    [instead] = units(easy)
    assert instead not in (None, "R-1")
    assert "R-1" in claimed(choosy)
    assert "R-1" not in claimed(easy)
    gave = Plan.objects.get(session=easy).gave_way
    assert [(each["unit"], each["holder"], each["instead"]) for each in gave] == [("R-1", choosy.pk, instead)]
    assert Plan.objects.get(session=choosy).gave_way == []
    page = said(browser_of(manager).get(f"/sessions/{easy.pk}/inputs"))
    assert f"would have had R-1, which session no. {choosy.pk} has; it gets {instead}" in page


def test_it_is_weighed_once_and_then_stands(easy: Session, choosy: Session) -> None:
    weigh_waiting()
    stands = [Plan.objects.get(session=session).pk for session in (easy, choosy)]
    assert weigh_waiting() == 0
    assert not weigh(easy.pk)
    assert [Plan.objects.get(session=session).pk for session in (easy, choosy)] == stands


def test_what_was_chosen_by_hand_is_not_taken_away(easy: Session, choosy: Session, manager: Person) -> None:
    row = Plan.objects.get(session=easy).inputs.get()
    Pin.objects.create(session=easy, label=row.label, unit=row.unit, by=manager, at=MONDAY)
    assert weigh_waiting() == 0
    assert units(easy) == ["R-1"]
    assert Plan.objects.get(session=choosy).unfilled.count() == 1


def test_a_session_whose_setup_has_begun_keeps_what_it_has(easy: Session, choosy: Session) -> None:
    with time_machine.travel(easy.setup_at, tick=False):
        assert not weigh(choosy.pk)
    assert units(easy) == ["R-1"]


def test_sessions_on_different_days_do_not_compete(
    easy: Session, manager: Person, job: Job, loft: Room
) -> None:
    other = book(manager, draft(job, loft, CHOOSY, day=3))
    assert Plan.objects.get(session=other).weighed
    assert units(other) == ["R-1"]


def test_what_is_cancelled_while_it_is_worked_out_takes_nothing(
    easy: Session, choosy: Session, manager: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    def slow(*arguments: Any, **more: Any) -> Any:
        choosy.refresh_from_db()
        if not choosy.cancelled:
            cancel(manager, choosy.pk, choosy.version, "meanwhile")
        return shares(*arguments, **more)

    monkeypatch.setattr(together, "shares", slow)
    assert not weigh(choosy.pk)
    assert units(easy) == ["R-1"]
    assert claimed(choosy) == set()
    assert not Plan.objects.filter(session=choosy).exists()


def test_a_fault_of_ours_is_logged_and_the_tick_goes_on(
    easy: Session, choosy: Session, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("no such split")

    monkeypatch.setattr(together, "shares", broken)
    assert weigh_waiting() == 0
    assert "no such split" in caplog.text
    assert weigh_waiting() == 0
    assert not Plan.objects.filter(weighed=False).exists()
    assert units(easy) == ["R-1"]
