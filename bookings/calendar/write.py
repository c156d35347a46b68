"""A calendar and its entries, plain records, as iCalendar text (RFC 5545, RFC 7986). Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from functools import lru_cache
from typing import NamedTuple
from zoneinfo import ZoneInfo

from icalendar import Calendar, vText

from bookings.calendar.lines import cleaned, duration, escaped, folded, in_utc, one_line
from bookings.calendar.zones import is_utc, tzid_of, vtimezone
from studio.clock import twice_or_never

PRODID = "-//Deskhand//Calendar feed//EN"
LOOK_AGAIN = timedelta(hours=1)
CLOSING = b"END:VCALENDAR\r\n"


class Status(StrEnum):
    TENTATIVE = "TENTATIVE"
    CONFIRMED = "CONFIRMED"
    CANCELLED = "CANCELLED"


@dataclass(frozen=True, slots=True)
class Entry:
    """One VEVENT. Instants are aware; `zone` is the IANA name whose clock the reader sees.

    alarm is how long before the start the reader's calendar speaks up; None for never. A series has its rule and
    what is left out of it; replaces names the occurrence that an entry of the same uid stands for; last_end is
    the end of a series. What is private is shown to nobody else by whoever subscribes (RFC 5545 section 3.8.1.3).
    """

    uid: str
    start: datetime
    end: datetime
    zone: str
    summary: str
    made_at: datetime
    changed_at: datetime
    sequence: int
    status: Status
    location: str = ""
    description: str = ""
    category: str = ""
    alarm: timedelta | None = None
    rule: str = ""
    left_out: tuple[datetime, ...] = ()
    replaces: datetime | None = None
    last_end: datetime | None = None
    private: bool = False


@dataclass(frozen=True, slots=True)
class Feed:
    """A calendar and its entries, the ones that matter most first: where most_bytes is reached the rest stays
    out, and the calendar's description says so. `zone` is defined even in a calendar that is empty; zones are
    right for all `years`, first and last, and for the entries' own."""

    name: str
    description: str
    zone: str
    years: tuple[int, int]
    entries: Sequence[Entry | Written]
    most_bytes: int


class Text(vText):
    """TEXT as lines.escaped writes it."""

    def to_ical(self) -> bytes:
        return escaped(self).encode()


class Written(NamedTuple):
    """An entry as it stands in the calendar, with what is needed to put it in order. Times in UTC."""

    start: datetime
    end: datetime
    uid: str
    zone: str
    text: bytes


def written(entry: Entry) -> Written:
    start, end = entry.start.astimezone(UTC), (entry.last_end or entry.end).astimezone(UTC)
    return Written(start, end, entry.uid, tzid_of(entry.zone), event_bytes(entry))


def feed_bytes(feed: Feed) -> bytes:
    """The whole calendar as it goes over the line: UTF-8, CRLF, folded at 75 octets."""
    texts = [each if isinstance(each, Written) else written(each) for each in feed.entries]
    kept = _that_fit(texts, feed.most_bytes)
    left_out = len(feed.entries) - len(kept)
    kept.sort(key=lambda each: (each.start, each.uid, each.end))
    head = _head(feed, left_out, kept)
    return b"".join([*head, *(each.text for each in kept), CLOSING])


def event_bytes(entry: Entry) -> bytes:
    """One VEVENT. Raises ValueError for a time without a zone, or an end that isn't after the start."""
    return b"".join(map(folded, _event_lines(entry)))


def _event_lines(entry: Entry) -> Iterator[str]:
    changed, summary = in_utc(entry.changed_at), escaped(one_line(entry.summary))
    yield "BEGIN:VEVENT"
    yield f"UID:{entry.uid}"
    yield f"DTSTAMP:{changed}"
    yield f"LAST-MODIFIED:{changed}"
    yield f"CREATED:{in_utc(entry.made_at)}"
    yield f"SEQUENCE:{entry.sequence}"
    yield from _times(entry)
    yield from _repeats(entry)
    yield f"STATUS:{entry.status}"
    if entry.status == Status.CANCELLED:
        yield "TRANSP:TRANSPARENT"
    if entry.private:
        yield "CLASS:PRIVATE"
    yield f"SUMMARY:{summary}"
    for name, text in [("LOCATION", one_line(entry.location)), ("CATEGORIES", one_line(entry.category))]:
        if text:
            yield f"{name}:{escaped(text)}"
    if entry.description:
        yield f"DESCRIPTION:{escaped(cleaned(entry.description))}"
    if entry.alarm is not None:
        yield from ["BEGIN:VALARM", "ACTION:DISPLAY", f"DESCRIPTION:{summary}"]
        yield from [f"TRIGGER:{duration(-entry.alarm)}", "END:VALARM"]
    yield "END:VEVENT"


def _times(entry: Entry) -> Iterator[str]:
    """Start and end on the zone's clock; in UTC where that is the clock, or where it shows one of them twice.

    A local time that occurs twice means its first occurrence (RFC 5545 section 3.3.5), and not every reader
    knows that; an instant in UTC has one meaning.
    """
    if entry.start.tzinfo is None or entry.end.tzinfo is None:
        raise ValueError(f"The entry “{entry.summary}” has a time without a zone.")
    instants = [entry.start.astimezone(UTC), entry.end.astimezone(UTC)]
    if instants[1] <= instants[0]:
        raise ValueError(f"The entry “{entry.summary}” ends before it has begun.")
    tz = ZoneInfo(tzid_of(entry.zone))
    walls = [instant.astimezone(tz).replace(tzinfo=None) for instant in instants]
    in_doubt = any(twice_or_never(wall, tz) for wall in walls) or is_utc(tz.key)
    for name, instant, wall in zip(("DTSTART", "DTEND"), instants, walls, strict=True):
        yield f"{name}:{in_utc(instant)}" if in_doubt else f"{name};TZID={tz.key}:{wall:%Y%m%dT%H%M%S}"


def _repeats(entry: Entry) -> Iterator[str]:
    """The rule of a series, what is left out of it, or which of its occurrences this one is."""
    tz = ZoneInfo(tzid_of(entry.zone))

    def said(name: str, instant: datetime) -> str:
        if is_utc(tz.key):
            return f"{name}:{in_utc(instant)}"
        return f"{name};TZID={tz.key}:{instant.astimezone(tz):%Y%m%dT%H%M%S}"

    if entry.rule:
        yield f"RRULE:{entry.rule}"
    for instant in entry.left_out:
        yield said("EXDATE", instant)
    if entry.replaces:
        yield said("RECURRENCE-ID", entry.replaces)


def _that_fit(entries: Sequence[Written], most_bytes: int) -> list[Written]:
    room = most_bytes
    for number, each in enumerate(entries):
        room -= len(each.text)
        if room < 0:
            return list(entries[:number])
    return list(entries)


def _head(feed: Feed, left_out: int, entries: Sequence[Written]) -> Iterator[bytes]:
    """The calendar without its entries: a VTIMEZONE keeps even an empty one valid (RFC 5545 section 3.6)."""
    calendar = Calendar()
    calendar["VERSION"], calendar["PRODID"] = Text("2.0"), Text(PRODID)
    calendar["CALSCALE"] = Text("GREGORIAN")
    calendar["NAME"] = calendar["X-WR-CALNAME"] = Text(one_line(feed.name))
    more = f" {left_out} entries further away are left out: the file would grow too long." if left_out else ""
    calendar["DESCRIPTION"] = calendar["X-WR-CALDESC"] = Text(cleaned(feed.description + more))
    calendar.add("REFRESH-INTERVAL", LOOK_AGAIN, parameters={"VALUE": "DURATION"})
    calendar["X-PUBLISHED-TTL"] = Text("PT1H")
    text: bytes = calendar.to_ical(sorted=False)
    yield text.removesuffix(CLOSING)
    for tzid in sorted({entry.zone for entry in entries} or {tzid_of(feed.zone)}):
        yield zone_text(tzid, *_years(feed, entries))


@lru_cache(maxsize=256)
def zone_text(zone: str, first_year: int, last_year: int) -> bytes:
    """The VTIMEZONE. Kept, for making it takes longer than a day's entries."""
    text: bytes = vtimezone(zone, first_year, last_year).to_ical(sorted=False)
    return text


def _years(feed: Feed, entries: Sequence[Written]) -> tuple[int, int]:
    first = min((entry.start.year for entry in entries), default=feed.years[0])
    last = max((entry.end.year for entry in entries), default=feed.years[1])
    return min(first, feed.years[0]), max(last, feed.years[1])
