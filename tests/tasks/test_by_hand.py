"""An engineer adds, drops, keeps and allows inputs by hand: said before, kept by later plans, undone in one press."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.test import Client as Browser

from bookings.booking import book, change
from bookings.models import Job, Session
from studio.models import Person, Role, Room
from tasks import by_hand, follow
from tasks.by_hand import NotDone, added, dropped, keep, pin, undo, what_if
from tasks.models import ByHand, Pin
from tests.house import make_person
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


def labels() -> list[str]:
    return [row.label for row in Session.objects.get().plan.inputs.all()]


def test_an_input_added_by_hand_is_said_before_kept_by_later_plans_and_undone(
    session: Session, job: Job, hall: Room, manager: Person
) -> None:
    would = what_if(session, added("bass guitar", 1, "di"))
    [new] = would.takes
    assert new.startswith("New: input 3 Bass, Box-")
    assert would.breaks == []
    assert not ByHand.objects.exists()
    assert labels() == ["Lead vocal", "Snare top"]

    kept = keep(manager, session.pk, lambda _: added("Bass guitar", 1, "di"))
    assert labels() == ["Lead vocal", "Snare top", "Bass"]
    session = Session.objects.with_all().get()
    longer = draft(job, hall, "lead vocal\nsnare top\nrack tom")
    change(manager, session.pk, session.version, longer)
    assert labels() == ["Lead vocal", "Snare top", "Rack tom", "Bass"]
    assert session.history.filter(words="By hand: added 1 × bass guitar, DI.").count() == 1

    assert undo(manager, session.pk, change_id=kept.pk) == "added 1 × bass guitar, DI"
    assert labels() == ["Lead vocal", "Snare top", "Rack tom"]
    assert not gear_of(session) & {"Box-1", "Box-2"}
    with pytest.raises(NotDone, match="taken back already"):
        undo(manager, session.pk, change_id=kept.pk)


def test_what_there_is_too_little_of_is_said_before_it_is_added(session: Session) -> None:
    would = what_if(session, added("bass guitar", 3, "di"))
    assert len([each for each in would.takes if each.startswith("New: ")]) == 2
    [short] = would.breaks
    assert short.startswith("Can’t be met: Bass 3. ")
    assert "DI" in short


def test_a_dropped_input_frees_its_gear_and_comes_back(session: Session, manager: Person) -> None:
    unit = session.plan.inputs.get(label="Lead vocal").unit.tag
    assert what_if(session, dropped(session, "Lead vocal")).takes == ["No longer: Lead vocal."]
    kept = keep(manager, session.pk, lambda held: dropped(held, "Lead vocal"))
    assert labels() == ["Snare top"]
    assert unit not in gear_of(session)
    follow.replan(session.pk)
    assert labels() == ["Snare top"]
    undo(manager, session.pk, change_id=kept.pk)
    assert labels() == ["Lead vocal", "Snare top"]


def test_an_input_is_kept_as_it_is_until_that_is_taken_back(session: Session, manager: Person) -> None:
    row = session.plan.inputs.get(label="Snare top")
    pin(manager, session.pk, row.pk)
    assert Pin.objects.count() == 2
    follow.replan(session.pk)
    again = Session.objects.get().plan.inputs.get(label="Snare top")
    assert (again.unit, again.preamp_channel) == (row.unit, row.preamp_channel)
    assert any("was chosen by hand" in why for why in again.why)
    undo(manager, session.pk, label="Snare top")
    assert not Pin.objects.exists()


def test_what_is_not_known_and_who_may_not_is_refused_and_changes_nothing(
    session: Session, manager: Person
) -> None:
    for source, count, pickup in (
        ("glorpophone", 1, ""),
        ("tambourine", 0, ""),
        ("tambourine", 1, "psychic"),
    ):
        with pytest.raises(NotDone):
            added(source, count, pickup)
    with pytest.raises(NotDone, match="There is no input “Bassoon”"):
        keep(manager, session.pk, lambda held: dropped(held, "Bassoon"))
    with pytest.raises(NotDone, match="Choose a kind"):
        keep(manager, session.pk, lambda held: by_hand.allowed(held, "Snare top", "laser"))
    with pytest.raises(PermissionDenied):
        keep(make_person(Role.ASSISTANT), session.pk, lambda _: added("tambourine"))
    assert not ByHand.objects.exists()


def test_the_page_adds_drops_keeps_and_undoes_without_scripts(session: Session) -> None:
    browser = Browser()
    rui = make_person(Role.ENGINEER, name="Rui")
    browser.force_login(rui)
    page = f"/sessions/{session.pk}/inputs"
    asked = {"source": "bass guitar", "count": "1", "pickup": "di"}
    assert "New: input 3 Bass" in browser.post(f"{page}/check", asked).content.decode()
    assert (
        "Write the number in figures"
        in browser.post(f"{page}/check", {**asked, "count": "two"}).content.decode()
    )
    said = browser.post(f"{page}/add", asked, follow=True).content.decode()
    assert "Added 1 × bass guitar, DI" in said
    assert "Changed since" in said
    assert "What it would" in said
    ask = browser.get(f"{page}/drop?label=Snare%20top").content.decode()
    assert "No longer: Snare top." in ask
    browser.post(f"{page}/drop", {"label": "Snare top"})
    assert labels() == ["Lead vocal", "Bass"]
    row = Session.objects.get().plan.inputs.get(label="Lead vocal")
    said = browser.post(f"{page}/{row.pk}/keep", follow=True).content.decode()
    assert f"Always {row.unit.tag}" in said
    said = browser.post(f"{page}/always", {"label": "Lead vocal", "wants": row.unit.tag}, follow=True)
    assert "From now on you prefer" in said.content.decode()
    assert rui.preferences.get().unit == row.unit
    for each in list(ByHand.objects.all()):
        browser.post(f"{page}/undo", {"change": each.pk})
    browser.post(f"{page}/undo", {"label": "Lead vocal"})
    assert labels() == ["Lead vocal", "Snare top"]
    assert not ByHand.objects.exists()
    assert not Pin.objects.exists()
