"""From a booking to the letter, through the use cases and their after-commit hooks."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import timedelta

import pytest
import time_machine
from django.core import mail
from django.db import transaction

from bookings.booking import Draft, book, cancel, change
from studio.models import Person, Role, Room
from tasks.reminders.send import send_due
from tests.bookings.cast import called, make_draft, manager
from tests.house import at, make_mic, make_person, make_preamp, make_room, make_stock

pytestmark = pytest.mark.django_db

Capture = Callable[..., AbstractContextManager[list[Callable[[], object]]]]
LOAD_IN = at("2027-03-04 10:00")  # the assistants' call, as the draft has no setup minutes


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(LOAD_IN - timedelta(days=1), tick=False) as clock:
        yield clock


@pytest.fixture
def hall() -> Room:
    room = make_room()
    make_preamp(home_room=room)
    make_mic("D-1", max_spl_db=160)
    for name in ("tall boom", "short boom", "straight", "clip"):
        make_stock(name)
    return room


@pytest.fixture
def kim() -> Person:
    return make_person(Role.ASSISTANT, name="Kim", email="kim@example.org")


@pytest.fixture
def draft(hall: Room, kim: Person) -> Draft:
    crew = (called(kim, Role.ASSISTANT),)
    return make_draft(hall, "10:00", "18:00", "11:00", crew=crew, instrument_list="trumpet")


def test_the_letter_of_a_booked_session_holds_its_checklist(
    draft: Draft, clock: time_machine.Traveller, django_capture_on_commit_callbacks: Capture
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        session = book(manager(), draft)
    send_due()
    assert not mail.outbox
    clock.move_to(LOAD_IN - timedelta(hours=1))
    send_due()
    (letter,) = mail.outbox
    assert letter.to == ["kim@example.org"]
    assert "Your call: Thu 4 March, 10:00 CET" in letter.body
    titles = session.tasks.filter(stage="setup").values_list("title", flat=True)
    assert titles
    for number, title in enumerate(titles, 1):
        assert f"{number}. {title} (" in letter.body


def test_a_booking_that_is_rolled_back_sends_nothing(
    draft: Draft, clock: time_machine.Traveller, django_capture_on_commit_callbacks: Capture
) -> None:
    clock.move_to(LOAD_IN - timedelta(minutes=30))
    with django_capture_on_commit_callbacks(execute=True) as hooks, transaction.atomic():
        book(manager(), draft)
        transaction.set_rollback(True)
    send_due()
    assert not hooks
    assert not mail.outbox


def test_moved_and_cancelled_through_the_use_cases(
    draft: Draft, hall: Room, kim: Person, clock: time_machine.Traveller
) -> None:
    session = book(manager(), draft)
    crew = (called(kim, Role.ASSISTANT),)
    later = make_draft(hall, "14:00", "22:00", "15:00", crew=crew, instrument_list="trumpet")
    session = change(manager(), session.pk, session.version, later)
    clock.move_to(LOAD_IN)
    send_due()
    assert not mail.outbox
    clock.shift(timedelta(hours=3))
    send_due()
    assert "Your call: Thu 4 March, 14:00 CET" in mail.outbox[0].body
    cancel(manager(), session.pk, session.version, "The trumpet is ill")
    clock.shift(timedelta(hours=8))
    send_due()
    assert len(mail.outbox) == 1
