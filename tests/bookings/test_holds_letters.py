"""Letters about holds: to whom, what they say, and that each goes out once and only while it is so."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core import mail

from bookings.holds import challenge, confirm, lapse_holds, release
from bookings.letters.send import send_hold_letters
from bookings.models import Client, HoldLetter, Session
from bookings.wakeups import keep_ladders
from studio.models import Role
from tests.bookings.cast import make_job, manager
from tests.bookings.hold_cast import clock, fresh, hold
from tests.house import at, make_person, make_room, make_site

__all__ = ["clock"]
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def two() -> tuple[Session, Session]:
    """Tin Harbour first, Larkspur second, each with a client of its own."""
    person = manager()
    person.email = "mara@example.org"
    person.save()
    hall = make_room("Weaving Hall")
    tin, lark = make_job("Tin Harbour"), make_job("Larkspur Quartet", "Mixes")
    Client.objects.filter(name="Tin Harbour").update(email="tin@example.org")
    Client.objects.filter(name="Larkspur Quartet").update(email="lark@example.org")
    first = hold(hall, title="Harmonium days", job_id=tin.pk)
    return first, hold(hall, title="Larkspur mixes", job_id=lark.pk)


def sent_to() -> list[str]:
    return sorted(letter.to[0] for letter in mail.outbox)


def test_a_challenge_tells_the_manager_and_the_client_who_holds_once(two: tuple[Session, Session]) -> None:
    challenge(manager(), two[1].pk)
    for _ in range(2):
        send_hold_letters()
    assert sent_to() == ["mara@example.org", "tin@example.org"]
    assert "Without an answer by Tue 2 March, 11:00 CET" in mail.outbox[0].body


def test_the_client_is_never_told_who_asks_or_where_to_press(two: tuple[Session, Session]) -> None:
    challenge(manager(), two[1].pk)
    send_hold_letters()
    (letter,) = [letter for letter in mail.outbox if letter.to == ["tin@example.org"]]
    whole = letter.subject + letter.body
    assert "Another party would like to have the time" in whole
    assert "Please confirm or let go by Tue 2 March, 11:00 CET: Harmonium days" in whole
    assert "An answer must come in writing, by e-mail or letter." in whole
    for secret in ("Larkspur", "lark@example.org", "/sessions/"):
        assert secret not in whole


def test_a_reminder_follows_half_way(two: tuple[Session, Session], clock: time_machine.Traveller) -> None:
    challenge(manager(), two[1].pk)
    send_hold_letters()
    clock.move_to(at("2027-03-01 22:59"))
    send_hold_letters()
    assert len(mail.outbox) == 2
    clock.move_to(at("2027-03-01 23:00"))
    send_hold_letters()
    assert len(mail.outbox) == 4
    assert mail.outbox[2].subject.startswith(("No answer yet", "Still to be confirmed"))


def answered(first: Session, second: Session) -> None:
    confirm(manager(), first.pk, first.version)


def withdrawn(first: Session, second: Session) -> None:
    release(manager(), second.pk)


def let_go(first: Session, second: Session) -> None:
    release(manager(), first.pk)


@pytest.mark.parametrize("happens", [answered, withdrawn, let_go])
def test_what_is_not_so_any_more_at_delivery_is_dropped(two: tuple[Session, Session], happens: Any) -> None:
    challenge(manager(), two[1].pk)
    happens(*two)
    send_hold_letters()
    asked = HoldLetter.objects.filter(kind="asked")
    assert set(asked.values_list("state", flat=True)) == {HoldLetter.State.DROPPED}
    assert not [letter for letter in mail.outbox if letter.to == ["tin@example.org"]]


def test_whoever_has_come_first_is_made_known_to_the_manager(
    two: tuple[Session, Session], clock: time_machine.Traveller
) -> None:
    challenge(manager(), two[1].pk)
    clock.move_to(at("2027-03-02 11:00"))
    lapse_holds()
    send_hold_letters()
    (letter,) = mail.outbox
    assert (letter.to, letter.subject) == (["mara@example.org"], "First in line now: Larkspur mixes")


def test_the_tick_lapses_asks_and_sends_and_twice_does_no_harm(
    two: tuple[Session, Session], clock: time_machine.Traveller
) -> None:
    clock.move_to(at("2027-03-03 16:00"))
    for _ in range(2):
        keep_ladders()
    assert sent_to() == ["mara@example.org", "mara@example.org"]
    assert {letter.subject for letter in mail.outbox} == {
        "Yes or no for Thu 4 March, 10:00: Harmonium days",
        "Yes or no for Thu 4 March, 10:00: Larkspur mixes",
    }


def test_a_manager_of_another_site_and_one_who_has_left_get_no_letter(two: tuple[Session, Session]) -> None:
    make_person(Role.MANAGER, site=make_site("Quay", "Asia/Kathmandu"))
    make_person(Role.MANAGER, is_active=False)
    challenge(manager(), two[1].pk)
    send_hold_letters()
    assert sent_to() == ["mara@example.org", "tin@example.org"]


def test_a_late_tick_still_lets_the_hold_fall_and_sends_no_letter_about_it(
    two: tuple[Session, Session], clock: time_machine.Traveller
) -> None:
    challenge(manager(), two[1].pk)
    clock.shift(timedelta(days=2))
    keep_ladders()
    assert fresh(two[0]).cancelled
    assert sent_to() == ["mara@example.org"]  # about the one that is first now
