"""Calls for tests: a fixed day, what goes out a little later, and answers as a calendar program writes them."""

from __future__ import annotations

import email
import email.policy
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.utils import timezone
from icalendar import Calendar

from bookings.invitations.send import send_calls
from bookings.models import Session
from studio.models import Person, Role
from tests.house import at, make_person

NOW = at("2027-03-01 12:00")


@pytest.fixture
def clock() -> Iterator[Any]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def anna(db: None) -> Person:
    return make_person(Role.ENGINEER, name="Anna Quist", email="anna@example.org")


def sent(clock: Any, later: timedelta = timedelta(minutes=3)) -> list[Any]:
    """What goes out a little later, parsed as a mail program would."""
    clock.shift(later)
    mail.outbox.clear()
    send_calls()
    return [
        email.message_from_bytes(each.message().as_bytes(), policy=email.policy.default)
        for each in mail.outbox
    ]


def calendar_of(message: Any) -> Any:
    (part,) = [p for p in message.walk() if p.get_content_type() == "text/calendar"]
    return Calendar.from_ical(part.get_payload(decode=True))


def fresh(session: Session) -> Session:
    return Session.objects.with_all().get(pk=session.pk)


def reply(session: Session, person: Person, partstat: str = "ACCEPTED", **changed: Any) -> bytes:
    """An answer as a calendar program writes it."""
    sequence = changed.get("sequence", fresh(session).sequence)
    stamp = changed.get("stamp", timezone.now())
    name = person.name.replace('"', "'")
    address = changed.get("address", f"mailto:{person.email}")
    lines = [
        "BEGIN:VCALENDAR",
        "PRODID:-//Test//Answers//EN",
        "VERSION:2.0",
        f"METHOD:{changed.get('method', 'REPLY')}",
        "BEGIN:VEVENT",
        f"UID:{changed.get('uid', f'{session.uid}@deskhand')}",
        f"DTSTAMP:{stamp:%Y%m%dT%H%M%SZ}",
        f"SEQUENCE:{sequence}",
        "ORGANIZER:mailto:deskhand@localhost",
        f'ATTENDEE;PARTSTAT={partstat};CN="{name}":{address}',
        "END:VEVENT",
        "END:VCALENDAR",
        "",
    ]
    return "\r\n".join(lines).encode()


def mailed(calendar: bytes, sender: str) -> bytes:
    head = f"From: {sender}\r\nSubject: Accepted\r\nMIME-Version: 1.0\r\n"
    return head.encode() + b"Content-Type: text/calendar; method=REPLY; charset=UTF-8\r\n\r\n" + calendar
