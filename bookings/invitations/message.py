"""One person's call as an iTIP message (RFC 5546 section 3.2), to go out by e-mail (RFC 6047). Pure.

A message that has gone out is frozen as text; what it told is read back from that text.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from urllib.parse import quote
from zoneinfo import ZoneInfo

from bookings.busy.lines import content_line, property_name, unescaped
from bookings.calendar.lines import cleaned, escaped, folded, in_utc, one_line
from bookings.calendar.zones import is_utc, tzid_of, vtimezone
from studio.clock import twice_or_never

PRODID = "-//Deskhand//Calls//EN"
ASKED = ("DTSTART", "DTEND", "LOCATION")  # an answer is for these hours in these rooms
FACTS = (*ASKED, "SUMMARY", "DESCRIPTION")


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


def request(call: Call, partstat: str = "NEEDS-ACTION") -> str:
    """An invitation, or an update of one where the sequence is higher. partstat is the answer that stands."""
    head = ["BEGIN:VCALENDAR", f"PRODID:{PRODID}", "VERSION:2.0", "CALSCALE:GREGORIAN", "METHOD:REQUEST"]
    zone = b"" if _in_doubt(call) else vtimezone(call.zone, call.start.year, call.end.year).to_ical()
    parts = [*map(folded, head), zone, *map(folded, _event(call, partstat)), folded("END:VCALENDAR")]
    return b"".join(parts).decode()


def called_off(invitation: str, sequence: int, stamp: datetime) -> str:
    """The same call as an invitation that has gone out, and that it is off (RFC 5546 section 3.2.5)."""
    anew = {
        "METHOD": "METHOD:CANCEL",
        "STATUS": "STATUS:CANCELLED",
        "SEQUENCE": f"SEQUENCE:{sequence}",
        "DTSTAMP": f"DTSTAMP:{in_utc(stamp)}",
        "LAST-MODIFIED": f"LAST-MODIFIED:{in_utc(stamp)}",
    }
    lines = (anew.get(property_name(line), line) for line in unfolded(invitation))
    asked = ";RSVP=TRUE:"
    return b"".join(folded(line.replace(asked, ":") if _names(line) else line) for line in lines).decode()


def facts(calendar: str) -> tuple[str, ...]:
    """What the person must know of a message: one with the same facts tells them nothing new."""
    return tuple(line for line in _of_event(calendar) if property_name(line) in FACTS)


def asked_for(calendar: str) -> tuple[str, ...]:
    """The hours and rooms that a message asks for: an answer counts as long as they are the same."""
    return tuple(line for line in _of_event(calendar) if property_name(line) in ASKED)


def told(calendar: str, name: str) -> str:
    """The text of a property of the event, like SUMMARY, as a reader of the message sees it."""
    lines = (line for line in _of_event(calendar) if property_name(line) == name)
    return unescaped(content_line(next(lines, f"{name}:")).value)


def start_of(calendar: str) -> datetime:
    """The instant at which the call of a message begins."""
    first = next(line for line in asked_for(calendar) if property_name(line) == "DTSTART")
    line = content_line(first)
    tz = ZoneInfo(line.parameters["TZID"]) if "TZID" in line.parameters else UTC
    return datetime.strptime(line.value.removesuffix("Z"), "%Y%m%dT%H%M%S").replace(tzinfo=tz)


def unfolded(calendar: str) -> list[str]:
    return calendar.replace("\r\n ", "").removesuffix("\r\n").split("\r\n")


def _of_event(calendar: str) -> list[str]:
    """Without the zone's own lines."""
    lines = unfolded(calendar)
    return lines[lines.index("BEGIN:VEVENT") :]


def _names(line: str) -> bool:
    return property_name(line) == "ATTENDEE"


def _event(call: Call, partstat: str) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{call.uid}"
    yield f"DTSTAMP:{in_utc(call.stamp)}"
    yield f"CREATED:{in_utc(call.stamp)}"
    yield f"LAST-MODIFIED:{in_utc(call.stamp)}"
    yield f"SEQUENCE:{call.sequence}"
    yield from _times(call)
    yield "STATUS:CONFIRMED"
    yield f"SUMMARY:{escaped(one_line(call.summary))}"
    yield f"LOCATION:{escaped(one_line(call.location))}"
    yield f"DESCRIPTION:{escaped(cleaned(call.description))}"
    yield f"ORGANIZER;CN={parameter(call.organiser.name)}:{mailto(call.organiser.address)}"
    answer = f"CUTYPE=INDIVIDUAL;ROLE=REQ-PARTICIPANT;PARTSTAT={partstat};RSVP=TRUE"
    yield f"ATTENDEE;CN={parameter(call.attendee.name)};{answer}:{mailto(call.attendee.address)}"
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
