"""What the letters say, and what they can't be made to say."""

from __future__ import annotations

import email
import email.policy
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core.mail import EmailMultiAlternatives

from bookings.models import Session
from studio.models import Person
from tasks.models import Reminder, Task
from tasks.reminders.letters import LONGEST_SUBJECT, letter, one_line
from tasks.reminders.rows import remind
from tests.house import make_room, make_site
from tests.tasks.reminder_cast import make_assistant, make_session, make_task, rows

pytestmark = pytest.mark.django_db

DOWNBEAT = datetime(2027, 3, 2, 10, tzinfo=UTC)  # 11:00 in Berlin (CET is UTC+1, tz database)


@pytest.fixture(autouse=True)
def clock() -> Iterator[None]:
    with time_machine.travel(DOWNBEAT - timedelta(hours=3), tick=False):
        yield


@pytest.fixture
def kim() -> Person:
    return make_assistant("Kim")


@pytest.fixture
def session(kim: Person) -> Session:
    return make_session(make_room("Weaving Hall"), DOWNBEAT, kim)


def letter_of(session: Session, kind: str = Reminder.Kind.MORNING) -> EmailMultiAlternatives:
    remind(session)
    return letter(rows(session, kind)[0])


def html_of(mail: EmailMultiAlternatives) -> str:
    return str(mail.alternatives[0].content)


def test_the_morning_letter_holds_the_setup_checklist(session: Session, kim: Person) -> None:
    ola = make_assistant("Ola")
    stand = {"details": [["Fetch", "M-3"], ["Stand", "tall boom"]], "caution": "Tall booms tip."}
    make_task(session, Task.Stage.SETUP, 1, "Bass drum microphone", 6, assignee=kim, **stand)
    make_task(session, Task.Stage.SETUP, 2, "Chairs for the choir", 15, assignee=ola)
    make_task(session, Task.Stage.SETUP, 3, "Talkback", 4)
    make_task(session, Task.Stage.PHANTOM, 4, "Phantom on", 5)
    mail = letter_of(session)
    assert mail.subject == "Set up Weaving Hall for Tue 2 March, 11:00: Morning songs"
    assert (
        """Morning songs

Room: Weaving Hall, Mill Lane
Your call: Tue 2 March, 09:00 CET
Load-in: Tue 2 March, 10:00 CET
Downbeat: Tue 2 March, 11:00 CET
End: Tue 2 March, 19:00 CET
Times are on the clock of Europe/Berlin.

Setup checklist (3 lines, 25 min)

1. Bass drum microphone (6 min, you)
   Fetch: M-3
   Stand: tall boom
   Caution: Tall booms tip.

2. Chairs for the choir (15 min, Ola)

3. Talkback (4 min, nobody yet)

"""
        in mail.body
    )
    assert "Phantom on" not in mail.body
    assert "http://127.0.0.1:8000/day" in mail.body
    for text in ("Bass drum microphone", "tall boom", "Tall booms tip.", "(15 min, Ola)", "09:00 CET"):
        assert text in html_of(mail)


def test_the_phantom_letter_holds_the_phantom_check_and_guards_the_ears(session: Session) -> None:
    make_task(session, Task.Stage.PHANTOM, 1, "Phantom on, unit by unit", 5)
    make_task(session, Task.Stage.SETUP, 2, "Stands", 5)
    mail = letter_of(session, "phantom")
    assert mail.subject.startswith("Phantom check in Weaving Hall before Tue 2 March, 11:00")
    assert "1. Phantom on, unit by unit (5 min, nobody yet)" in mail.body
    assert "Stands" not in mail.body
    assert "every monitor and headphone path shut" in mail.body


def test_the_breakdown_letter_holds_the_breakdown_duties(session: Session) -> None:
    make_task(session, Task.Stage.BREAKDOWN, 1, "Phantom off, wait for the drain", 3)
    mail = letter_of(session, "breakdown")
    assert mail.subject == "Breakdown in Weaving Hall from Tue 2 March, 19:00: Morning songs"
    assert "1. Phantom off, wait for the drain (3 min, nobody yet)" in mail.body


@pytest.mark.parametrize(
    ("kind", "sentence"),
    [
        ("morning", "No setup checklist stands yet."),
        ("phantom", "Nothing on the checklist needs phantom."),
        ("breakdown", "No breakdown list stands yet."),
    ],
)
def test_without_tasks_the_letter_says_so(session: Session, kind: str, sentence: str) -> None:
    mail = letter_of(session, kind)
    assert sentence in mail.body
    assert sentence in html_of(mail)


def test_what_is_done_already_says_so(session: Session, kim: Person) -> None:
    make_task(session, Task.Stage.SETUP, 1, "Stands", 5, done_at=DOWNBEAT, done_by=kim)
    assert "1. Stands (5 min, nobody yet) – done" in letter_of(session).body


def test_a_session_that_is_only_held_is_called_so(session: Session) -> None:
    assert "only held" not in letter_of(session).body
    session.status = Session.Status.HELD
    session.held_at, session.lapses_at = session.made_at, session.load_in
    session.save()
    assert "This session is only held, not confirmed." in letter_of(session).body


def test_the_clock_is_that_of_the_site_and_changes_in_the_night(kim: Person) -> None:
    """Berlin, 28 March 2027: CET becomes CEST at 01:00 UTC (tz database, rule EU)."""
    night = make_session(make_room(), datetime(2027, 3, 28, 1, 30, tzinfo=UTC), kim)
    body = letter_of(night).body
    assert "Load-in: Sun 28 March, 01:30 CET" in body
    assert "Downbeat: Sun 28 March, 03:30 CEST" in body


def test_another_site_another_clock(kim: Person) -> None:
    there = make_room(site=make_site("Harbour", "America/New_York"))
    body = letter_of(make_session(there, DOWNBEAT, kim)).body
    assert "Downbeat: Tue 2 March, 05:00 EST" in body  # UTC-5, tz database
    assert "Times are on the clock of America/New_York." in body


EVIL = "Choir\r\nBcc: x@example.org\x07\x1b[31m\u2028end"


def test_a_title_with_line_breaks_is_one_line_and_no_header(session: Session) -> None:
    session.title = EVIL
    session.save()
    make_task(session, Task.Stage.SETUP, 1, EVIL, 5)
    wire = letter_of(session).message().as_bytes(linesep="\r\n")
    read = email.message_from_bytes(wire, policy=email.policy.default)
    assert read["Subject"] == "Set up Weaving Hall for Tue 2 March, 11:00: Choir Bcc: x@example.org [31m end"
    assert "Bcc" not in read
    assert read["To"] == "kim@example.org"
    assert "\nBcc" not in letter_of(session).body


def test_a_very_long_title_with_accents_still_makes_a_subject(session: Session) -> None:
    session.title = "Ö" * 120
    session.save()
    session.room.name = "Größter Saal " * 6
    session.room.save()
    mail = letter_of(session)
    read = email.message_from_bytes(mail.message().as_bytes(), policy=email.policy.default)
    subject = read["Subject"].strip()
    assert subject.startswith("Set up Größter Saal")
    assert subject.endswith("Ö…")
    assert len(subject) == LONGEST_SUBJECT
    assert "Ö" * 120 in mail.body


def test_markup_in_a_title_is_text(session: Session) -> None:
    session.title = "<b>Rock & roll</b>"
    session.save()
    mail = letter_of(session)
    assert "<b>Rock & roll</b>" in mail.body
    assert "&lt;b&gt;Rock &amp; roll&lt;/b&gt;" in html_of(mail)


def test_the_html_fetches_nothing(session: Session) -> None:
    html = html_of(letter_of(session))
    assert "src=" not in html
    assert "url(" not in html
    assert "<link" not in html


def test_the_same_message_id_each_time_and_no_answers_wanted(session: Session, settings: Any) -> None:
    settings.DEFAULT_FROM_EMAIL = "Front desk <desk@studio.example>"
    first = letter_of(session).message()
    again = letter_of(session).message()
    row = rows(session)[0]
    assert first["Message-ID"] == again["Message-ID"] == row.message_id
    assert row.message_id == f"<reminder.{row.key}@studio.example>"
    assert first["Auto-Submitted"] == "auto-generated"  # RFC 3834 section 5


def test_one_line_keeps_what_people_write() -> None:
    assert one_line("Señor Núñez – “late” 🎸") == "Señor Núñez – “late” 🎸"
