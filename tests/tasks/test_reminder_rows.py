"""Rows follow the session, and nobody is told the same thing twice."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import connection, transaction
from django.utils import timezone

from studio.models import Person, Role, Room
from tasks.models import Reminder, Task
from tasks.reminders.rows import overdue, remind, try_again
from tests.house import make_room
from tests.tasks.reminder_cast import call, make_assistant, make_session, make_task, move, rows

pytestmark = pytest.mark.django_db

State = Reminder.State
DAY_BEFORE = datetime(2027, 3, 1, 18, tzinfo=UTC)
DOWNBEAT = datetime(2027, 3, 2, 10, tzinfo=UTC)


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(DAY_BEFORE, tick=False) as clock:
        yield clock


@pytest.fixture
def room() -> Room:
    return make_room()


@pytest.fixture
def kim() -> Person:
    return make_assistant("Kim")


def sent(reminder: Reminder) -> None:
    Reminder.objects.filter(pk=reminder.pk).update(state=State.SENT, sent_at=timezone.now())


def test_each_assistant_has_three_rows_and_an_engineer_none(room: Room, kim: Person) -> None:
    ola = make_assistant("Ola")
    session = make_session(room, DOWNBEAT, kim, ola)
    engineer = make_assistant("Uli")
    call(session, engineer)
    session.crew.filter(person=engineer).update(role=Role.ENGINEER)
    make_task(session, Task.Stage.PHANTOM, 1, "Phantom on, unit by unit", 25)
    make_task(session, Task.Stage.LINE_CHECK, 2, "Each line in turn", 20)
    make_task(session, Task.Stage.SETUP, 3, "Stands", 40)
    remind(session)
    found = session.reminders.filter(state=State.WAITING).values_list("person__name", "kind", "due_at")
    assert set(found) == {
        (name, kind, due_at)
        for name in ("Kim", "Ola")
        for kind, due_at in [
            ("morning", DOWNBEAT - timedelta(hours=3)),
            ("phantom", DOWNBEAT - timedelta(minutes=45)),
            ("breakdown", DOWNBEAT + timedelta(hours=7, minutes=30)),
        ]
    }
    assert session.reminders.count() == 6


def test_reminding_twice_changes_nothing(room: Room, kim: Person) -> None:
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    before = list(session.reminders.order_by("pk").values())
    remind(session)
    assert list(session.reminders.order_by("pk").values()) == before


def test_a_longer_checklist_makes_the_phantom_check_earlier(room: Room, kim: Person) -> None:
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    make_task(session, Task.Stage.LINE_CHECK, 1, "Each line in turn", 50)
    remind(session)
    (row,) = rows(session, "phantom")
    assert row.due_at == DOWNBEAT - timedelta(minutes=50)


def test_rows_that_wait_move_with_the_session(room: Room, kim: Person) -> None:
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    keys = set(session.reminders.values_list("key", flat=True))
    move(session, timedelta(minutes=5))
    remind(session)
    assert rows(session)[0].due_at == DOWNBEAT - timedelta(hours=2, minutes=55)
    assert set(session.reminders.values_list("key", flat=True)) == keys


def test_cancelled_means_dropped_with_the_reason(room: Room, kim: Person) -> None:
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    session.status = session.Status.CANCELLED
    session.save()
    remind(session)
    assert {row.state for row in session.reminders.all()} == {State.DROPPED}
    assert rows(session)[0].error == "The session or its crew has changed."


def test_another_assistant_takes_over_and_back_again(room: Room, kim: Person) -> None:
    ola = make_assistant("Ola")
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    session.crew.all().delete()
    call(session, ola)
    remind(session)
    state = dict(session.reminders.filter(kind="morning").values_list("person__name", "state"))
    assert state == {"Kim": State.DROPPED, "Ola": State.WAITING}
    call(session, kim)
    remind(session)
    assert session.reminders.filter(state=State.WAITING).count() == 6
    assert session.reminders.count() == 6


def test_a_person_who_has_left_the_house_is_not_reminded(room: Room, kim: Person) -> None:
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    kim.is_active = False
    kim.save()
    remind(session)
    assert not session.reminders.filter(state=State.WAITING).exists()


def test_a_small_move_of_what_was_told_sends_nothing_again(room: Room, kim: Person) -> None:
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    sent(rows(session)[0])
    move(session, timedelta(minutes=10))
    remind(session)
    assert [row.state for row in rows(session)] == [State.SENT]


def test_small_moves_add_up(room: Room, kim: Person) -> None:
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    sent(rows(session)[0])
    for _ in range(2):
        move(session, timedelta(minutes=10))
        remind(session)
    assert [row.state for row in rows(session)] == [State.SENT, State.WAITING]


@pytest.mark.parametrize("state", [State.SENT, State.SENDING, State.FAILED, State.MISSED])
def test_a_big_move_of_what_was_told_makes_a_row_with_a_key_of_its_own(
    room: Room, kim: Person, state: State
) -> None:
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    session.reminders.filter(kind="morning").update(state=state)
    move(session, timedelta(hours=4))
    remind(session)
    told, again = rows(session)
    assert (told.state, told.due_at) == (state, DOWNBEAT - timedelta(hours=3))
    assert (again.state, again.due_at) == (State.WAITING, DOWNBEAT + timedelta(hours=1))
    assert told.key != again.key
    assert told.message_id != again.message_id


def test_another_room_is_told_again(room: Room, kim: Person) -> None:
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    sent(rows(session)[0])
    session.room = make_room("Loft")
    session.save()
    remind(session)
    assert [row.state for row in rows(session)] == [State.SENT, State.WAITING]


def test_there_and_back_before_anybody_was_told_tells_nothing_new(room: Room, kim: Person) -> None:
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    sent(rows(session)[0])
    move(session, timedelta(hours=4))
    remind(session)
    move(session, timedelta(hours=-4))
    remind(session)
    assert [row.state for row in rows(session)] == [State.SENT, State.DROPPED]
    move(session, timedelta(hours=5))
    remind(session)
    assert [row.state for row in rows(session)] == [State.SENT, State.WAITING]


@pytest.mark.django_db(transaction=True)
def test_four_who_remind_at_once_make_one_new_row(room: Room, kim: Person) -> None:
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    sent(rows(session)[0])
    move(session, timedelta(hours=4))
    errors: list[Exception] = []

    def work() -> None:
        try:
            remind(session)
        except Exception as error:
            errors.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not errors
    assert [row.state for row in rows(session)] == [State.SENT, State.WAITING]


def test_nothing_is_made_for_what_is_over(room: Room, kim: Person, clock: time_machine.Traveller) -> None:
    clock.move_to(DOWNBEAT + timedelta(minutes=1))
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    assert [row.kind for row in session.reminders.all()] == ["breakdown"]
    clock.move_to(DOWNBEAT + timedelta(days=1))
    old = make_session(make_room("Loft"), DOWNBEAT, kim)
    remind(old)
    assert not old.reminders.exists()


def test_booked_at_short_notice_is_due_at_once(
    room: Room, kim: Person, clock: time_machine.Traveller
) -> None:
    clock.move_to(DOWNBEAT - timedelta(minutes=90))
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    assert [row.kind for row in Reminder.objects.due(timezone.now())] == ["morning"]


def test_the_same_key_and_message_id_every_time(room: Room, kim: Person) -> None:
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    row = rows(session)[0]
    assert row.key == f"{session.uid.hex}.{kim.pk}.morning.1"
    assert row.message_id == f"<reminder.{row.key}@localhost>"


def test_rows_of_a_change_that_is_rolled_back_never_were(room: Room, kim: Person) -> None:
    session = make_session(room, DOWNBEAT, kim)
    with transaction.atomic():
        remind(session)
        transaction.set_rollback(True)
    assert not session.reminders.exists()


def test_what_is_stuck_or_failed_is_shown(room: Room, kim: Person, clock: time_machine.Traveller) -> None:
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    assert not overdue()
    clock.move_to(DOWNBEAT - timedelta(hours=3) + timedelta(minutes=4))
    assert not overdue()
    clock.shift(timedelta(minutes=1))
    assert [row.kind for row in overdue()] == ["morning"]
    sent(rows(session)[0])
    assert not overdue()
    session.reminders.filter(kind="phantom").update(state=State.FAILED)
    assert [row.kind for row in overdue()] == ["phantom"]


def test_a_failed_one_can_be_put_back_in_line_and_no_other(room: Room, kim: Person) -> None:
    session = make_session(room, DOWNBEAT, kim)
    remind(session)
    row = rows(session)[0]
    assert not try_again(row.pk)
    session.reminders.filter(pk=row.pk).update(state=State.FAILED, error="550 no such user", attempts=3)
    assert try_again(row.pk)
    again = rows(session)[0]
    assert (again.state, again.error, again.attempts) == (State.WAITING, "", 0)
