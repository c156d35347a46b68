"""One person's call as an iTIP message (RFC 5546 section 3.2), to go out by e-mail (RFC 6047). Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from urllib.parse import quote
from zoneinfo import ZoneInfo

from bookings.calendar.lines import cleaned, escaped, folded, in_utc, one_line
from bookings.calendar.zones import is_utc, tzid_of, vtimezone
from studio.clock import twice_or_never

PRODID = "-//Deskhand//Calls//EN"
FACTS = ("DTSTART", "DTEND", "SUMMARY", "LOCATION")


@dataclass(frozen=True, slots=True)
class Party:
    name: str
    address: str


@dataclass(frozen=True, slots=True)
class Call:
    """What one person is invited to. Instants are aware; zone is the IANA name of the site's clock."""

    uid: str
    sequence: int
    start: datetime
    end: datetime
    zone: str
    summary: str
    location: str
    description: str
    organiser: Party
    attendee: Party
    stamp: datetime


def request(call: Call) -> str:
    """An invitation, or an update of one where the sequence is higher."""
    return _calendar(call, "REQUEST", _event(call, "CONFIRMED", "PARTSTAT=NEEDS-ACTION;RSVP=TRUE"))


def cancelled(call: Call) -> str:
    """The call is off."""
    return _calendar(call, "CANCEL", _event(call, "CANCELLED", "PARTSTAT=NEEDS-ACTION"))


def facts(calendar: str) -> tuple[str, ...]:
    """What the person must know of a message: a message with the same facts tells them nothing new."""
    lines = calendar.replace("\r\n ", "").split("\r\n")
    return tuple(line for line in lines if line.partition(":")[0].partition(";")[0] in FACTS)


def _calendar(call: Call, method: str, event: Iterator[str]) -> str:
    head = ["BEGIN:VCALENDAR", f"PRODID:{PRODID}", "VERSION:2.0", "CALSCALE:GREGORIAN", f"METHOD:{method}"]
    zone = b"" if _in_doubt(call) else vtimezone(call.zone, call.start.year, call.end.year).to_ical()
    parts = [*map(folded, head), zone, *map(folded, event), folded("END:VCALENDAR")]
    return b"".join(parts).decode()


def _event(call: Call, status: str, answer: str) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{call.uid}"
    yield f"DTSTAMP:{in_utc(call.stamp)}"
    yield f"CREATED:{in_utc(call.stamp)}"
    yield f"LAST-MODIFIED:{in_utc(call.stamp)}"
    yield f"SEQUENCE:{call.sequence}"
    yield from _times(call)
    yield f"STATUS:{status}"
    yield f"SUMMARY:{escaped(one_line(call.summary))}"
    yield f"LOCATION:{escaped(one_line(call.location))}"
    yield f"DESCRIPTION:{escaped(cleaned(call.description))}"
    yield f"ORGANIZER;CN={parameter(call.organiser.name)}:{mailto(call.organiser.address)}"
    who = f"CN={parameter(call.attendee.name)};CUTYPE=INDIVIDUAL;ROLE=REQ-PARTICIPANT;{answer}"
    yield f"ATTENDEE;{who}:{mailto(call.attendee.address)}"
    yield "END:VEVENT"


def _times(call: Call) -> Iterator[str]:
    in_doubt, tz = _in_doubt(call), ZoneInfo(tzid_of(call.zone))
    for name, instant in (("DTSTART", call.start), ("DTEND", call.end)):
        wall = f"{name};TZID={tz.key}:{instant.astimezone(tz):%Y%m%dT%H%M%S}"
        yield f"{name}:{in_utc(instant)}" if in_doubt else wall


def _in_doubt(call: Call) -> bool:
    """In UTC where the wall clock shows one of the times twice, and where it is UTC."""
    tz = ZoneInfo(tzid_of(call.zone))
    walls = [
        instant.astimezone(UTC).astimezone(tz).replace(tzinfo=None) for instant in (call.start, call.end)
    ]
    return is_utc(tz.key) or any(twice_or_never(wall, tz) for wall in walls)


def parameter(name: str) -> str:
    """A parameter's value, quoted; what can't stand in one is written as RFC 6868 has it."""
    plain = cleaned(name).replace("^", "^^").replace("\n", "^n").replace('"', "^'").replace("\t", " ")
    return f'"{plain}"'


def mailto(address: str) -> str:
    """RFC 6068: what a URI doesn't take is percent-encoded."""
    return f"mailto:{quote(address, safe='@!$*+-._~=/')}"
