"""Each due reminder goes out once, to people who still need it, and no trouble stops the ones after it."""

from __future__ import annotations

import smtplib
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend as Locmem
from django.db import connection
from django.utils import timezone

from bookings.models import Session
from studio.models import Person
from studio.post import Post, Trouble, Undelivered, undelivered
from tasks.models import Reminder
from tasks.reminders import send
from tasks.reminders.rows import remind
from tasks.wakeups import send_due_reminders
from tests.house import make_room
from tests.tasks.reminder_cast import make_assistant, make_session, move, rows

pytestmark = pytest.mark.django_db

State = Reminder.State
DOWNBEAT = datetime(2027, 3, 2, 10, tzinfo=UTC)
DUE = DOWNBEAT - timedelta(hours=3)  # call two hours before downbeat, notice one hour before the call


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(DUE, tick=False) as clock:
        yield clock


@pytest.fixture
def kim() -> Person:
    return make_assistant("Kim")


@pytest.fixture
def session(kim: Person) -> Session:
    session = make_session(make_room(), DOWNBEAT, kim)
    remind(session)
    return session


@pytest.fixture
def answers(monkeypatch: pytest.MonkeyPatch) -> dict[str, Exception]:
    """What the mail server raises for an address; all other letters are taken."""
    raised: dict[str, Exception] = {}

    def send_messages(backend: Locmem, letters: list[mail.EmailMessage]) -> int:
        if error := raised.get(letters[0].to[0]):
            raise error
        return keep(backend, letters)

    keep = Locmem.send_messages
    monkeypatch.setattr(Locmem, "send_messages", send_messages)
    return raised


def refused(code: int, words: bytes) -> Exception:
    return smtplib.SMTPRecipientsRefused({"someone@example.org": (code, words)})


def send_next() -> bool:
    with Post() as post:
        return send.send_next(post)


def test_a_due_reminder_goes_out_once(session: Session) -> None:
    assert send_next()
    assert not send_next()
    (letter,) = mail.outbox
    (row,) = rows(session)
    assert letter.to == ["kim@example.org"]
    assert letter.extra_headers["Message-ID"] == row.message_id
    assert (row.state, row.sent_at, row.attempts, row.leased_until) == (State.SENT, DUE, 1, None)


def test_nothing_goes_out_before_its_time(session: Session, clock: time_machine.Traveller) -> None:
    clock.move_to(DUE - timedelta(seconds=1))
    assert not send_next()
    assert not mail.outbox


def test_the_wake_up_sends_all_that_is_due(session: Session, clock: time_machine.Traveller) -> None:
    clock.move_to(DOWNBEAT - timedelta(minutes=20))
    send_due_reminders()
    send_due_reminders()
    assert len(mail.outbox) == 2
    assert session.reminders.filter(state=State.SENT).count() == 2


def test_after_a_long_silence_what_is_still_ahead_goes_out_and_the_rest_is_missed(
    session: Session, clock: time_machine.Traveller
) -> None:
    clock.move_to(DOWNBEAT + timedelta(hours=7, minutes=45))
    send.send_due()
    assert dict(session.reminders.values_list("kind", "state")) == {
        "morning": State.MISSED,
        "phantom": State.MISSED,
        "breakdown": State.SENT,
    }
    assert rows(session)[0].error == "Too late: what it was for is over."


def test_a_day_later_nothing_goes_out(session: Session, clock: time_machine.Traveller) -> None:
    clock.move_to(DOWNBEAT + timedelta(hours=26))
    send.send_due()
    assert not mail.outbox
    assert set(session.reminders.values_list("state", flat=True)) == {State.MISSED}


def test_a_row_that_another_worker_has_leased_is_left_alone(
    session: Session, clock: time_machine.Traveller, settings: Any
) -> None:
    assert send.lease_next()
    assert send.lease_next() is None
    clock.shift(timedelta(seconds=settings.REMINDER_LEASE_SECONDS - 1))
    assert send.lease_next() is None
    clock.shift(timedelta(seconds=1))
    again = send.lease_next()
    assert again
    assert again.attempts == 2


def test_whoever_lost_the_lease_does_not_mark_the_row(
    session: Session, clock: time_machine.Traveller, settings: Any
) -> None:
    slow = send.lease_next()
    clock.shift(timedelta(seconds=settings.REMINDER_LEASE_SECONDS))
    quick = send.lease_next()
    assert slow
    assert quick
    assert not send.mark(slow, send.Outcome(State.FAILED, "too slow"))
    assert send.mark(quick, send.Outcome(State.SENT))
    assert rows(session)[0].state == State.SENT


def cancel(session: Session) -> None:
    Session.objects.filter(pk=session.pk).update(status=Session.Status.CANCELLED)


def take_off(session: Session) -> None:
    session.crew.all().delete()


def leave_the_house(session: Session) -> None:
    Person.objects.update(is_active=False)


def make_engineer(session: Session) -> None:
    session.crew.update(role="engineer")


@pytest.mark.parametrize("happens", [cancel, take_off, leave_the_house, make_engineer])
def test_what_is_not_wanted_any_more_between_lease_and_delivery_is_not_sent(
    session: Session, happens: Callable[[Session], None]
) -> None:
    leased = send.lease_next()
    assert leased
    happens(session)
    with Post() as post:
        send.mark(leased, send.deliver(leased, post))
    assert not mail.outbox
    assert rows(session)[0].state == State.DROPPED


def test_a_session_that_moves_between_lease_and_delivery_is_told_once_at_its_new_time(
    session: Session, clock: time_machine.Traveller
) -> None:
    leased = send.lease_next()
    assert leased
    move(session, timedelta(hours=4))
    remind(session)
    with Post() as post:
        send.mark(leased, send.deliver(leased, post))
    assert [row.state for row in rows(session)] == [State.DROPPED, State.WAITING]
    clock.shift(timedelta(hours=4))
    send.send_due()
    (letter,) = mail.outbox
    assert "Downbeat: Tue 2 March, 15:00 CET" in letter.body


def test_a_small_move_between_lease_and_delivery_is_in_the_letter(session: Session) -> None:
    leased = send.lease_next()
    assert leased
    move(session, timedelta(minutes=10))
    remind(session)
    with Post() as post:
        send.mark(leased, send.deliver(leased, post))
    assert [row.state for row in rows(session)] == [State.SENT]
    assert "Downbeat: Tue 2 March, 11:10 CET" in mail.outbox[0].body


def test_ten_people_of_whom_one_has_a_refused_address(answers: dict[str, Exception]) -> None:
    people = [make_assistant(f"Player{number}") for number in range(10)]
    session = make_session(make_room(), DOWNBEAT, *people)
    remind(session)
    answers["player2@example.org"] = refused(550, b"5.1.1 No such person here")
    send.send_due()
    send.send_due()
    assert sorted(letter.to[0] for letter in mail.outbox) == sorted(
        person.email for person in people if person.name != "Player2"
    )
    (bad,) = session.reminders.filter(state=State.FAILED)
    assert (bad.person.name, bad.error) == ("Player2", "550 5.1.1 No such person here")


def test_a_person_without_an_address_is_named(session: Session, kim: Person) -> None:
    Person.objects.update(email="")
    send.send_due()
    assert (rows(session)[0].state, rows(session)[0].error) == (State.FAILED, "Kim has no e-mail address.")


def test_an_address_that_no_header_can_hold_fails_alone(session: Session) -> None:
    other = make_session(make_room("Loft"), DOWNBEAT, make_assistant("Ola"))
    remind(other)
    Person.objects.filter(name="Kim").update(email="kim@example.org\nBcc: x@example.org")
    send.send_due()
    assert [letter.to for letter in mail.outbox] == [["ola@example.org"]]
    (row,) = rows(session)
    assert row.state == State.FAILED
    assert row.error.startswith("The address can't be used: ")


def test_trouble_for_now_is_tried_again_later_each_time_and_not_for_ever(
    session: Session, answers: dict[str, Exception], clock: time_machine.Traveller
) -> None:
    Reminder.objects.update(useless_after=DUE + timedelta(days=1))
    answers["kim@example.org"] = refused(451, b"4.7.1 Try again later")
    pauses = []
    for _ in range(send.MOST_TRIES - 1):
        send.send_due()
        (row,) = rows(session)
        assert (row.state, row.error) == (State.SENDING, "451 4.7.1 Try again later")
        assert row.leased_until
        pauses.append((row.leased_until - timezone.now()).total_seconds())
        clock.move_to(row.leased_until - timedelta(seconds=1))
        assert not send_next()
        clock.shift(timedelta(seconds=1))
    assert pauses == [30, 60, 120, 240, 480, 600, 600, 600, 600, 600, 600]  # the docstring of _later
    send.send_due()
    (row,) = rows(session)
    assert (row.state, row.error) == (State.FAILED, "Given up after 12 tries: 451 4.7.1 Try again later")


def test_trouble_for_now_ends_when_the_server_is_well(
    session: Session, answers: dict[str, Exception], clock: time_machine.Traveller
) -> None:
    answers["kim@example.org"] = TimeoutError("timed out")
    send.send_due()
    assert rows(session)[0].error == "The mail server does not answer."
    answers.clear()
    clock.shift(send.FIRST_PAUSE)
    send.send_due()
    (row,) = rows(session)
    assert (row.state, row.error, row.attempts) == (State.SENT, "", 2)


def test_a_dead_server_ends_the_round_and_the_next_round_begins_with_the_next_row(
    session: Session, answers: dict[str, Exception]
) -> None:
    other = make_session(make_room("Loft"), DOWNBEAT, make_assistant("Ola"))
    remind(other)
    answers["kim@example.org"] = TimeoutError("timed out")
    assert send.send_due() == 1
    assert not mail.outbox
    assert send.send_due() == 1
    assert [letter.to for letter in mail.outbox] == [["ola@example.org"]]


def test_a_row_that_kills_every_worker_is_given_up(session: Session, clock: time_machine.Traveller) -> None:
    Reminder.objects.update(useless_after=DUE + timedelta(days=1))
    for _ in range(send.MOST_TRIES):
        assert send.lease_next()
        clock.shift(timedelta(minutes=2))
    send.send_due()
    assert not mail.outbox
    assert rows(session)[0].error == "Given up after 12 tries, at which the worker stopped in the middle."


def test_a_letter_that_cannot_be_written_stops_no_other(
    session: Session, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    other = make_session(make_room("Loft"), DOWNBEAT, make_assistant("Ola"))
    remind(other)
    write = send.letter

    def letter(reminder: Reminder) -> mail.EmailMultiAlternatives:
        if reminder.session_id == session.pk:
            raise KeyError("no such template variable")
        return write(reminder)

    monkeypatch.setattr(send, "letter", letter)
    send.send_due()
    assert [sent.to for sent in mail.outbox] == [["ola@example.org"]]
    assert rows(session)[0].state == State.SENDING
    assert "could not be written" in caplog.text


@pytest.mark.parametrize(
    ("error", "trouble", "words"),
    [
        # Reply codes: RFC 5321 sections 4.2.2 and 4.2.3; the words are invented.
        (refused(550, b"no mailbox"), Trouble.REFUSED, "550 no mailbox"),
        (refused(450, b"mailbox busy"), Trouble.LATER, "450 mailbox busy"),
        (smtplib.SMTPDataError(554, b"not wanted"), Trouble.REFUSED, "554 not wanted"),
        (smtplib.SMTPDataError(452, "disk full"), Trouble.LATER, "452 disk full"),
        (smtplib.SMTPSenderRefused(553, b"who are you", "x"), Trouble.DOWN, "553 who are you"),
        (smtplib.SMTPAuthenticationError(535, b"wrong password"), Trouble.DOWN, "535 wrong password"),
        (TimeoutError(), Trouble.DOWN, "The mail server does not answer."),
        (ConnectionRefusedError("refused"), Trouble.DOWN, "The mail server gives no service: refused"),
        (
            smtplib.SMTPServerDisconnected("gone"),
            Trouble.DOWN,
            "The mail server gives no service: gone",
        ),
    ],
)
def test_what_an_answer_means(error: Exception, trouble: Trouble, words: str) -> None:
    found = undelivered(error)
    assert isinstance(found, Undelivered)
    assert (found.trouble, found.words) == (trouble, words)


@pytest.mark.django_db(transaction=True)
def test_no_transaction_is_open_while_the_mail_server_talks(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = []

    def send_messages(backend: Locmem, letters: list[mail.EmailMessage]) -> int:
        seen.append((connection.in_atomic_block, rows(session)[0].state))
        return len(letters)

    monkeypatch.setattr(Locmem, "send_messages", send_messages)
    send.send_due()
    assert seen == [(False, State.SENDING)]


@pytest.mark.django_db(transaction=True)
def test_four_senders_at_once_send_each_reminder_once(monkeypatch: pytest.MonkeyPatch) -> None:
    people = [make_assistant(f"Player{number}") for number in range(5)]
    for number in range(8):
        remind(make_session(make_room(f"Room {number}"), DOWNBEAT, *people))
    sent: list[str] = []

    def send_messages(backend: Locmem, letters: list[mail.EmailMessage]) -> int:
        sent.append(letters[0].extra_headers["Message-ID"])
        return 1

    monkeypatch.setattr(Locmem, "send_messages", send_messages)
    errors: list[BaseException] = []

    def work() -> None:
        try:
            send.send_due()
        except BaseException as error:
            errors.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not errors
    assert len(sent) == 40
    assert set(sent) == set(Reminder.objects.filter(state=State.SENT).values_list("message_id", flat=True))
