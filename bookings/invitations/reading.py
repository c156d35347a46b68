"""Answers found in a message or a file (RFC 5546 section 3.2.3, RFC 6047). Lenient, bounded, believes nothing. Pure."""

from __future__ import annotations

import email
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from email.message import Message
from email.utils import parseaddr
from urllib.parse import unquote
from zoneinfo import ZoneInfo

from bookings.busy.limits import Budget, Unreadable
from bookings.busy.lines import Component, Line, components
from bookings.calendar.lines import one_line

MOST_BYTES = 1_000_000
MOST_PARTS = 100
MOST_ANSWERS = 50
LONGEST_COMMENT, LONGEST_ADDRESS = 200, 80


class NoAnswer(Exception):
    """Nothing in it can be taken for an answer; the message is a sentence that says why."""


@dataclass(frozen=True, slots=True)
class Reply:
    """One attendee of one entry, as it came. sent_by: who wrote it in their name (RFC 5545 section 3.2.18).

    start: of the time proposed, where it can be read.
    """

    method: str
    uid: str
    address: str
    partstat: str
    sequence: int = 0
    stamp: datetime | None = None
    comment: str = ""
    sent_by: str = ""
    delegated_to: str = ""
    start: datetime | None = None


@dataclass(frozen=True, slots=True)
class Letter:
    """What came: the address in its From, None for a bare file, and the replies in it."""

    sender: str | None
    replies: tuple[Reply, ...]


def read(data: bytes) -> Letter:
    """An e-mail as it came over the line, or the text of a calendar. Raises NoAnswer."""
    if len(data) > MOST_BYTES:
        raise NoAnswer("It is too big for an answer: nothing of it was read.")
    if data.lstrip(b"\xef\xbb\xbf \t\r\n")[:15].upper() == b"BEGIN:VCALENDAR":
        return Letter(None, tuple(replies_in(data)))
    try:
        message = email.message_from_bytes(data)
        sender = parseaddr(str(message.get("From", "")))[1]
        texts = list(_calendars(message))
    except (ValueError, LookupError, TypeError, AttributeError, RecursionError):
        raise NoAnswer("The message is damaged and can't be read.") from None
    if not texts:
        raise NoAnswer("There is no calendar answer in the message.")
    return Letter(sender, tuple(dict.fromkeys(reply for text in texts for reply in replies_in(text))))


def _calendars(message: Message) -> Iterator[bytes]:
    for number, part in enumerate(message.walk()):
        if number >= MOST_PARTS:
            return
        name = str(part.get_filename() or "").lower()
        if part.get_content_type() == "text/calendar" or name.endswith(".ics"):
            payload = part.get_payload(decode=True)
            if isinstance(payload, bytes):
                yield _in_utf8(payload, part.get_content_charset())


def _in_utf8(payload: bytes, charset: str | None) -> bytes:
    """A charset that nobody knows is left to the reader of lines."""
    try:
        return payload.decode(charset).encode() if charset else payload
    except (LookupError, UnicodeError):
        return payload


def replies_in(data: bytes) -> list[Reply]:
    """Raises NoAnswer where the calendar is none, or asks for something instead of answering."""
    try:
        file = components(data, Budget())
    except Unreadable as problem:
        raise NoAnswer(str(problem)) from None
    methods = {calendar.token("METHOD") for calendar in file.calendars}
    if not methods & {"REPLY", "COUNTER"}:
        raise NoAnswer(f"It is no answer (METHOD {', '.join(sorted(methods))[:40] or 'missing'}).")
    found = [
        reply
        for calendar in file.calendars
        for event in calendar.parts
        if event.kind == "VEVENT"
        for reply in _replies(event, calendar.token("METHOD"))
    ]
    if not found:
        raise NoAnswer("The answer names nobody.")
    return found[:MOST_ANSWERS]


def _replies(event: Component, method: str) -> Iterator[Reply]:
    for line in event.all("ATTENDEE"):
        yield Reply(
            method=method,
            uid=event.text("UID"),
            address=address_of(line.value),
            partstat=line.upper("PARTSTAT") or "NEEDS-ACTION",
            sequence=_number(event.text("SEQUENCE")),
            stamp=_instant(event.first("DTSTAMP")),
            comment=one_line(event.text("COMMENT"))[:LONGEST_COMMENT],
            sent_by=address_of(line.parameters.get("SENT-BY", "")),
            delegated_to=one_line(address_of(line.parameters.get("DELEGATED-TO", "")))[:LONGEST_ADDRESS],
            start=_instant(event.first("DTSTART")) if method == "COUNTER" else None,
        )


def address_of(uri: str) -> str:
    """Of a mailto URI (RFC 6068); anything else as it is."""
    plain = unquote(uri).strip()
    return plain[7:].partition("?")[0].strip() if plain[:7].lower() == "mailto:" else plain


def _number(text: str) -> int:
    """0 where there is none (RFC 5545 section 3.8.7.4); -1 for what is no number, which is older than anything."""
    if not text:
        return 0
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else -1


def _instant(line: Line | None) -> datetime | None:
    """In UTC or on the clock of a zone of the IANA database; None for anything else."""
    if line is None:
        return None
    try:
        wall = datetime.strptime(line.value.upper().removesuffix("Z"), "%Y%m%dT%H%M%S").replace(tzinfo=UTC)
        if line.value.upper().endswith("Z") or "TZID" not in line.parameters:
            return wall if line.name == "DTSTAMP" or line.value.upper().endswith("Z") else None
        return wall.replace(tzinfo=ZoneInfo(line.parameters["TZID"])).astimezone(UTC)
    except (ValueError, KeyError, OSError, OverflowError):
        return None
