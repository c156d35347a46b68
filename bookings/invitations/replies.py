"""Answers that come back (RFC 5546 section 3.2.3): found in a message, checked, entered. Nothing is trusted."""

from __future__ import annotations

import email
import email.policy
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import parseaddr
from typing import Any
from urllib.parse import unquote
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from icalendar import Calendar

from bookings.history import note
from bookings.invitations.rows import last_letters, tell_managers
from bookings.models import CallLetter, Crew, Session
from studio.access import Act, may
from studio.models import Person

MOST_BYTES = 1_000_000
MOST_EVENTS = 50
DOMAIN = "@deskhand"
Answer = Crew.Answer
ANSWERS = {
    "ACCEPTED": Answer.ACCEPTED,
    "TENTATIVE": Answer.TENTATIVE,
    "DECLINED": Answer.DECLINED,
}


@dataclass(frozen=True, slots=True)
class Told:
    """What became of one answer; taken says whether anything changed."""

    taken: bool
    words: str


@dataclass(frozen=True, slots=True)
class Reply:
    """One VEVENT of a reply, as it came."""

    uid: str
    address: str
    partstat: str
    sequence: int
    stamp: datetime | None
    comment: str = ""


def take_message(data: bytes) -> list[Told]:
    """From an e-mail as it came over the line. The sender has to be the one who answers."""
    if len(data) > MOST_BYTES:
        return [Told(False, "The message is too big for an answer.")]
    message = email.message_from_bytes(data, policy=email.policy.default)
    sender = parseaddr(str(message.get("From", "")))[1]
    texts = list(_calendars(message))
    if not texts:
        return [Told(False, "There is no calendar answer in the message.")]
    return [told for text in texts for told in take_calendar(text, sender)]


def _calendars(message: Any) -> Iterator[bytes]:
    for part in message.walk():
        name = (part.get_filename() or "").lower()
        if part.get_content_type() == "text/calendar" or name.endswith(".ics"):
            payload = part.get_payload(decode=True)
            if isinstance(payload, bytes):
                yield payload


def take_calendar(data: bytes, sender: str | None = None) -> list[Told]:
    """From the text of a calendar. sender None: a manager has brought the file."""
    if len(data) > MOST_BYTES:
        return [Told(False, "The file is too big for an answer.")]
    try:
        calendar = Calendar.from_ical(data.decode("utf-8-sig", "replace"))
    except (ValueError, KeyError, IndexError, TypeError) as error:
        return [Told(False, f"The calendar can't be read: {str(error)[:80]}")]
    method = str(calendar.get("METHOD", "")).upper()
    if method == "COUNTER":
        return [Told(False, "It proposes another time: nothing was changed. Talk to them.")]
    if method != "REPLY":
        return [Told(False, f"It is no answer (METHOD {method or 'missing'}).")]
    events = calendar.walk("VEVENT")[:MOST_EVENTS]
    return [enter(reply, sender) for event in events for reply in _replies(event)] or [
        Told(False, "The answer names nobody.")
    ]


def _replies(event: Any) -> Iterator[Reply]:
    attendees = event.get("ATTENDEE", [])
    for attendee in attendees if isinstance(attendees, list) else [attendees]:
        address = unquote(str(attendee)).strip()
        if address.lower().startswith("mailto:"):
            address = address[7:]
        yield Reply(
            uid=str(event.get("UID", "")),
            address=address,
            partstat=str(getattr(attendee, "params", {}).get("PARTSTAT", "NEEDS-ACTION")).upper(),
            sequence=_number(event.get("SEQUENCE", 0)),
            stamp=_stamp(event.get("DTSTAMP")),
            comment=str(event.get("COMMENT", ""))[:200],
        )


def _number(value: Any) -> int:
    try:
        return int(value)
    except (TypeError, ValueError):
        return 0


def _stamp(value: Any) -> datetime | None:
    stamp = getattr(value, "dt", None)
    if not isinstance(stamp, datetime):
        return None
    return stamp.astimezone(UTC) if stamp.tzinfo else stamp.replace(tzinfo=UTC)


def enter(reply: Reply, sender: str | None = None) -> Told:
    """Enter one answer if it is what it says it is. SEQUENCE never rises by it (RFC 5546 section 2.1.4)."""
    session = _session(reply.uid)
    if session is None:
        return Told(False, "The answer is about nothing that this house has sent.")
    with transaction.atomic():
        crew = _crew(session, reply.address)
        if crew is None:
            return Told(False, f"{reply.address[:80]} isn't called to “{session.title}” (any more).")
        if sender is not None and sender.casefold() != crew.person.email.casefold():
            return Told(False, f"The answer of {crew.person.name} came from another address: {sender[:80]}.")
        if refused := _too_old(reply, session, crew):
            return Told(False, refused)
        answer = ANSWERS.get(reply.partstat)
        if answer is None:
            said = (
                f"{crew.person.name} has answered {reply.partstat[:20]}: nothing was changed. Talk to them."
            )
            return Told(False, said)
        return _set(crew, answer, reply.stamp, crew.person, reply.comment)


def _too_old(reply: Reply, session: Session, crew: Crew) -> str:
    last = last_letters(session).get(crew.person_id)
    if last is None or last.kind != CallLetter.Kind.REQUEST:
        return f"{crew.person.name} wasn't invited to “{session.title}”."
    if session.cancelled:
        return f"“{session.title}” is cancelled."
    if reply.sequence < last.sequence:
        return f"{crew.person.name} has answered to an older time of “{session.title}”. They were told of the new."
    if reply.stamp and crew.answered_at and reply.stamp < crew.answered_at:
        return f"{crew.person.name} has answered later than that already."
    return ""


def _session(uid: str) -> Session | None:
    try:
        found = UUID(uid.strip().removesuffix(DOMAIN))
    except ValueError:
        return None
    return Session.objects.with_all().filter(uid=found).first()


def _crew(session: Session, address: str) -> Crew | None:
    rows = Crew.objects.select_for_update(of=("self",)).filter(session=session, assigned=True)
    named = [row for row in rows.select_related("person") if row.person.email]
    return next((row for row in named if row.person.email.casefold() == address.casefold()), None)


def answer_by_hand(by: Person, crew: Crew, answer: str, because: str = "") -> Told:
    """On the page: one's own answer, or one that a manager enters for somebody. Raises PermissionError."""
    if crew.person_id != by.pk and not may(by, Act.BOOK):
        raise PermissionError("Only a manager can answer for somebody else.")
    with transaction.atomic():
        row = Crew.objects.select_for_update(of=("self",)).select_related("person", "session").get(pk=crew.pk)
        return _set(row, Answer(answer), None, by, because)


def _set(crew: Crew, answer: Crew.Answer, stamp: datetime | None, by: Person, because: str) -> Told:
    if crew.answer == answer:
        return Told(False, f"{crew.person.name} has {answer.label} already.")
    crew.answer, crew.answered_at = answer, stamp or timezone.now()
    crew.save(update_fields=["answer", "answered_at"])
    words = f"{crew.person.name}: {answer.label}." + (f" “{because}”" if because else "")
    note(crew.session, by, "answered", words)
    if answer == Answer.DECLINED:
        tell_managers(crew, f"{crew.person.name} has declined.")
    return Told(True, words)


def is_message(data: bytes) -> bool:
    """Whether the bytes are an e-mail rather than a calendar."""
    return not data.lstrip(b"\xef\xbb\xbf \r\n").upper().startswith(b"BEGIN:VCALENDAR")


def take(data: bytes) -> list[Told]:
    """A file that a manager brings: an e-mail or a calendar."""
    if not is_message(data):
        return take_calendar(data)
    return take_message(data)
