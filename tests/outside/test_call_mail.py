"""Invitations over a real mail server on loopback, byte for byte, and sent by a process that is killed."""

from __future__ import annotations

import email
import email.policy
import os
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest
import time_machine
from aiosmtpd.controller import Controller
from django.utils import timezone
from icalendar import Calendar

from bookings.booking import book, cancel, change
from bookings.invitations.replies import take
from bookings.invitations.send import send_calls
from bookings.models import CallLetter, Crew, Session
from bookings.wakeups import keep_calls
from studio.models import Role
from tests.bookings.call_cast import NOW, mailed, reply
from tests.bookings.cast import called, make_draft, make_session, manager
from tests.house import at, make_person, make_room
from tests.outside import calendar_reading
from tests.outside.test_mail_sink import Sink
from tests.services import free_port

HERE = Path(__file__).parents[2]
NANO = 'Ruiz, Ana "Nano": ночь 🎸 ^ שלום'
SENDING = """
import time, django
django.setup()
from django.utils import timezone
from bookings.invitations.send import send_calls
from bookings.models import CallLetter
end = time.monotonic() + 20
while time.monotonic() < end and CallLetter.objects.exclude(state="sent").exists():
    send_calls()
    time.sleep(0.2)
"""


class Kept(Sink):
    """A mail server that keeps the letters themselves as well."""

    def __init__(self) -> None:
        super().__init__()
        self.letters: list[bytes] = []

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        self.letters.append(envelope.content)
        return await super().handle_DATA(server, session, envelope)

    def new(self) -> list[EmailMessage]:
        found, self.letters = self.letters, []
        return [email.message_from_bytes(each, policy=email.policy.default) for each in found]  # type: ignore[misc]


@pytest.fixture
def sink(settings: Any) -> Iterator[Kept]:
    sink = Kept()
    controller = Controller(sink, hostname="127.0.0.1", port=free_port())
    controller.start()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", controller.port
    settings.DEFAULT_FROM_EMAIL = '"Mill Lane, desk" <desk@example.org>'
    sink.port = controller.port  # type: ignore[attr-defined]
    yield sink
    controller.stop()


def checked(message: EmailMessage, method: str) -> Any:
    """What a strict reader finds, once everything that RFC 6047 section 2.4 asks for has been seen."""
    assert message.get_content_type() == "multipart/alternative"
    plain, calendar = list(message.iter_parts())
    assert (plain.get_content_type(), calendar.get_content_type()) == ("text/plain", "text/calendar")
    kind = calendar["Content-Type"]
    assert (kind.params["method"], kind.params["charset"]) == (method, "UTF-8")
    assert calendar["Content-Transfer-Encoding"] == "base64"
    octets = calendar.get_payload(decode=True)
    assert isinstance(octets, bytes)
    whole = calendar_reading.read(octets)
    (event,) = whole.events
    assert whole.calendar.one("METHOD") == method
    assert event.one("ORGANIZER") == "mailto:desk@example.org"
    assert event.one("ATTENDEE") == f"mailto:{message['To']}"
    for line in [event.text("SUMMARY"), event.text("LOCATION"), *event.text("DESCRIPTION").split("\n")]:
        assert line in plain.get_content()
    return whole


@pytest.mark.django_db
def test_the_life_of_a_call_as_a_mail_server_sees_it(sink: Kept) -> None:
    """Field cases F08, F10, F11, F13: invite, accept, move, stale accept, decline, chase, take off, cancel."""
    with time_machine.travel(NOW, tick=False) as clock:
        ana = make_person(Role.ENGINEER, name=NANO, email="ana+studio@example.org")
        otis = make_person(Role.ASSISTANT, name="Otis", email="otis@example.org")
        crew = [called(ana), called(otis, Role.ASSISTANT)]
        session = make_session(make_room("Weaving Hall"), crew=crew, title="Chöre; live, “Tag 1”")

        def after(**time: Any) -> dict[str, EmailMessage]:
            clock.shift(timedelta(**time))
            keep_calls()
            return {str(message["To"]): message for message in sink.new()}

        first = after(minutes=3)
        assert first.keys() == {ana.email, otis.email}
        one = checked(first[ana.email], "REQUEST")
        (attendee,) = [line for line in one.events[0].lines if line[0] == "ATTENDEE"]
        assert attendee[1]["CN"] == NANO.replace("^", "^^").replace('"', "^'")  # RFC 6868
        assert (attendee[1]["RSVP"], attendee[1]["PARTSTAT"]) == ("TRUE", "NEEDS-ACTION")
        octets = list(first[ana.email].iter_parts())[1].get_payload(decode=True)
        assert Calendar.from_ical(octets).events[0]["ATTENDEE"].params["CN"] == NANO
        assert one.span(one.events[0]) == (at("2027-03-04 10:00"), at("2027-03-04 18:00"))

        accepted = reply(session, ana, "ACCEPTED")
        assert take(mailed(accepted, ana.email))[0].taken
        session = change(
            manager(), session.pk, session.version, make_draft(session.room, "11:00", "19:00", crew=crew)
        )
        second = after(minutes=3)
        two = checked(second[ana.email], "REQUEST")
        assert two.events[0].one("UID") == one.events[0].one("UID")
        assert int(two.events[0].one("SEQUENCE")) > int(one.events[0].one("SEQUENCE"))
        assert two.events[0].one("DTSTAMP") > one.events[0].one("DTSTAMP")
        assert second[ana.email]["Message-ID"] != first[ana.email]["Message-ID"]
        assert not take(mailed(accepted, ana.email))[0].taken, "it was for the old time"
        assert take(mailed(reply(session, ana, "DECLINED"), ana.email))[0].taken

        (declined,) = after(minutes=3).values()
        assert (declined["To"], "has declined" in declined.get_content()) == (manager().email, True)

        chased = after(hours=45)  # Wednesday, 09:09
        assert chased == {}
        chased = after(hours=1)
        assert chased.keys() == {otis.email}, "who has answered isn't asked again"
        assert checked(chased[otis.email], "REQUEST").events[0].one("SEQUENCE") == two.events[0].one(
            "SEQUENCE"
        )

        session = change(
            manager(), session.pk, session.version, make_draft(session.room, "11:00", "19:00", crew=crew[:1])
        )
        off = after(minutes=3)
        assert off.keys() == {otis.email}
        assert checked(off[otis.email], "CANCEL").events[0].one("STATUS") == "CANCELLED"
        cancel(manager(), session.pk, session.version, "ill")
        gone = after(minutes=3)
        assert gone.keys() == {ana.email}
        three = checked(gone[ana.email], "CANCEL").events[0]
        assert int(three.one("SEQUENCE")) > session.sequence
        assert Session.objects.get().crew.get().answer == Crew.Answer.DECLINED


def ten_invitations() -> set[str]:
    """Message-IDs of letters that are due now."""
    start, crew = (
        timezone.now() + timedelta(days=3),
        tuple(called(make_person(Role.ENGINEER)) for _ in range(10)),
    )
    draft = make_draft(make_room(), "10:00", "18:00").moved(start, start, start + timedelta(hours=8))
    book(manager(), replace(draft, crew=crew))
    CallLetter.objects.update(due_at=timezone.now())
    return set(CallLetter.objects.values_list("message_id", flat=True))


def test_kill_9_in_the_middle_loses_no_invitation_and_doubles_only_the_one_in_flight(
    sink: Kept, database_environment: dict[str, str]
) -> None:
    expected = ten_invitations()
    assert len(expected) == 10
    environment = {
        **database_environment,
        "DJANGO_SETTINGS_MODULE": "studio.settings",
        "EMAIL_URL": f"smtp://127.0.0.1:{sink.port}",  # type: ignore[attr-defined]
        "DESKHAND_REMINDER_LEASE_SECONDS": "2",
    }

    def start() -> subprocess.Popen[bytes]:
        return subprocess.Popen([sys.executable, "-c", SENDING], cwd=HERE, env=environment)

    worker = start()
    sink.when_taken = lambda count: os.kill(worker.pid, signal.SIGKILL) if count == 4 else None
    assert worker.wait(30) == -signal.SIGKILL
    in_flight = set(
        CallLetter.objects.filter(state=CallLetter.State.SENDING).values_list("message_id", flat=True)
    )
    assert in_flight == {sink.ids[3]}
    assert start().wait(40) == 0
    times = Counter(sink.ids)
    assert times.keys() == expected
    assert {message_id for message_id, count in times.items() if count > 1} == in_flight
    assert send_calls() == 0
