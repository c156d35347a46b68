"""A strict reader of iCalendar that shares no code with what writes ours: from the bytes to instants in UTC.

Each check names the section of RFC 5545 that it comes from. Zones are read from the file alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache

from dateutil.rrule import rrulestr

TEXT = re.compile(r"(?:[^\\;,\x00-\x08\x0a-\x1f\x7f]|\\[\\;,nN])*")  # section 3.3.11
LINE = re.compile(
    r"([A-Z0-9-]+)((?:;[A-Z0-9-]+=(?:\"[^\"\x00-\x08\x0a-\x1f\x7f]*\"|[^\";:,]*))*):(.*)", re.DOTALL
)
PARAMETER = re.compile(r";([A-Z0-9-]+)=(\"[^\"]*\"|[^\";:,]*)")
UTC_TIME = re.compile(r"\d{8}T\d{6}Z")
TEXTS = {"SUMMARY", "LOCATION", "DESCRIPTION", "NAME", "X-WR-CALNAME", "X-WR-CALDESC", "PRODID", "UID"}
UNTIL = datetime(2045, 1, 1)  # noqa: DTZ001 (zones are expanded on their own clock)


@dataclass
class Part:
    """A component: its properties as (name, parameters, value) and the components inside it."""

    name: str
    lines: list[tuple[str, dict[str, str], str]] = field(default_factory=list)
    parts: list[Part] = field(default_factory=list)

    def all(self, name: str) -> list[str]:
        return [value for found, _, value in self.lines if found == name]

    def one(self, name: str) -> str:
        values = self.all(name)
        assert len(values) == 1, f"{self.name} has {len(values)} {name}"
        return values[0]

    def text(self, name: str) -> str:
        return unescaped(self.one(name))

    def inside(self, name: str) -> list[Part]:
        return [part for part in self.parts if part.name == name]


@dataclass(frozen=True)
class Read:
    """A whole calendar, checked."""

    calendar: Part
    zones: dict[str, list[tuple[datetime, timedelta]]]

    @property
    def events(self) -> list[Part]:
        return self.calendar.inside("VEVENT")

    def event(self, uid: str) -> Part:
        (found,) = [event for event in self.events if event.one("UID") == uid]
        return found

    def instant(self, event: Part, name: str) -> datetime:
        ((_, parameters, value),) = [line for line in event.lines if line[0] == name]
        if value.endswith("Z"):
            assert not parameters, "a time in UTC takes no TZID (section 3.2.19)"
            return _wall(value[:-1]).replace(tzinfo=UTC)
        return _first_instant(_wall(value), self.zones[parameters["TZID"]])

    def times(self) -> list[tuple[datetime, datetime]]:
        """When everything that isn't cancelled takes place, series expanded: rule, EXDATE, RECURRENCE-ID
        (sections 3.8.5.3, 3.8.5.1, 3.8.4.4), each repeat as long as the first."""
        found = []
        for event in self.events:
            start, end = self.span(event)
            starts = {start}
            if rule := event.all("RRULE"):
                assert not event.all("RECURRENCE-ID")
                starts = set(self._repeats(event, rule[0]))
                gone = [self._instant_of(line) for line in event.lines if line[0] == "EXDATE"]
                others = [each for each in self.events if each.one("UID") == event.one("UID")]
                gone += [self.instant(each, "RECURRENCE-ID") for each in others if each.all("RECURRENCE-ID")]
                assert set(gone) <= starts, "what is left out or replaced is one of the series"
                starts -= set(gone)
            if event.one("STATUS") != "CANCELLED":
                found += [(each, each + (end - start)) for each in starts]
        return sorted(found)

    def _repeats(self, event: Part, rule: str) -> list[datetime]:
        ((_, parameters, value),) = [line for line in event.lines if line[0] == "DTSTART"]
        offsets = self.zones[parameters["TZID"]]
        parts = [part for part in rule.split(";") if not part.startswith("UNTIL=")]
        last = next(part.removeprefix("UNTIL=") for part in rule.split(";") if part.startswith("UNTIL="))
        assert UTC_TIME.fullmatch(last), "UNTIL of a series with a zone is in UTC (section 3.3.10)"
        end = _wall(last[:-1]).replace(tzinfo=UTC)
        first = _wall(value)
        latest = end.replace(tzinfo=None) + timedelta(days=1)  # no clock is further ahead of UTC
        walls = rrulestr(";".join(parts), dtstart=first).between(first, latest, inc=True)
        instants = [_first_instant(wall, offsets) for wall in walls]
        return [instant for instant in instants if instant <= end]

    def _instant_of(self, line: tuple[str, dict[str, str], str]) -> datetime:
        _, parameters, value = line
        if value.endswith("Z"):
            return _wall(value[:-1]).replace(tzinfo=UTC)
        return _first_instant(_wall(value), self.zones[parameters["TZID"]])

    def span(self, event: Part) -> tuple[datetime, datetime]:
        return self.instant(event, "DTSTART"), self.instant(event, "DTEND")


def read(octets: bytes) -> Read:
    """Raises AssertionError for whatever a strict client would refuse."""
    calendar = _tree(list(_unfolded(octets)))
    assert calendar.name == "VCALENDAR"
    assert calendar.one("VERSION") == "2.0"  # section 3.7.4
    assert calendar.one("PRODID")  # section 3.7.3
    assert calendar.parts, "at least one component (section 3.6)"
    zones = {part.one("TZID"): _offsets(part) for part in calendar.inside("VTIMEZONE")}
    assert len(zones) == len(calendar.inside("VTIMEZONE")), "a TZID is defined twice (section 3.6.5)"
    events = calendar.inside("VEVENT")
    for event in events:
        _check_event(event, set(zones))
    uids = [(event.one("UID"), *event.all("RECURRENCE-ID")) for event in events]
    assert len(set(uids)) == len(uids), "two events share a UID (section 3.8.4.7)"
    return Read(calendar, zones)


def unescaped(value: str) -> str:
    return re.sub(r"\\(.)", lambda found: "\n" if found[1] in "nN" else found[1], value)


def _unfolded(octets: bytes) -> Iterator[str]:
    """Sections 3.1 and 3.4: CRLF everywhere and at the end, 75 octets at most, no character cut in two."""
    assert octets.startswith(b"BEGIN:VCALENDAR\r\n")
    assert octets.endswith(b"END:VCALENDAR\r\n")
    assert octets.count(b"\r\n") == octets.count(b"\n") == octets.count(b"\r")
    whole = ""
    for piece in octets.removesuffix(b"\r\n").split(b"\r\n"):
        assert piece.strip(), "an empty line"
        assert len(piece) <= 75, piece
        text = piece.decode("utf-8")
        if text.startswith(" "):
            whole += text[1:]
        else:
            if whole:
                yield whole
            whole = text
    yield whole


def _tree(lines: list[str]) -> Part:
    top = Part("")
    open_parts = [top]
    for line in lines:
        found = LINE.fullmatch(line)
        assert found, f"not a content line: {line!r}"
        name, parameters, value = found.groups()
        if name == "BEGIN":
            part = Part(value)
            open_parts[-1].parts.append(part)
            open_parts.append(part)
        elif name == "END":
            assert open_parts.pop().name == value
        else:
            assert name not in TEXTS or TEXT.fullmatch(value), f"badly escaped: {line!r}"
            pairs = PARAMETER.findall(parameters)
            open_parts[-1].lines.append((name, {key: given.strip('"') for key, given in pairs}, value))
    assert open_parts == [top]
    assert len(top.parts) == 1
    return top.parts[0]


def _check_event(event: Part, zones: set[str]) -> None:
    assert event.one("UID")  # section 3.8.4.7
    for name in ("DTSTAMP", "CREATED", "LAST-MODIFIED"):  # sections 3.8.7.1 to 3.8.7.3: in UTC
        assert UTC_TIME.fullmatch(event.one(name))
    for name, parameters, value in event.lines:
        if name in ("DTSTART", "DTEND"):  # never a floating time
            assert UTC_TIME.fullmatch(value) if not parameters else parameters["TZID"] in zones
    assert event.one("STATUS") in ("TENTATIVE", "CONFIRMED", "CANCELLED")  # section 3.8.1.11
    assert int(event.one("SEQUENCE")) >= 0
    for alarm in event.inside("VALARM"):  # section 3.6.6
        assert alarm.one("ACTION") == "DISPLAY"
        assert len(alarm.all("DESCRIPTION")) == 1
        assert re.fullmatch(r"-?PT\d+M", alarm.one("TRIGGER"))


def _offsets(zone: Part) -> list[tuple[datetime, timedelta]]:
    """Onsets in UTC with the offset from then on, in order (section 3.6.5)."""
    found = []
    assert zone.parts
    for part in zone.parts:
        assert part.name in ("STANDARD", "DAYLIGHT")
        assert part.one("TZNAME")
        before, after = _offset(part.one("TZOFFSETFROM")), _offset(part.one("TZOFFSETTO"))
        first = _wall(part.one("DTSTART"))
        rules = part.all("RRULE")
        assert len(rules) <= 1
        onsets = _onsets(rules[0], first) if rules else [first]
        assert onsets[0] == first, "DTSTART is not an onset of its own rule"
        found += [((onset - before).replace(tzinfo=UTC), after) for onset in onsets]
    return sorted(found)


@cache
def _onsets(rule: str, first: datetime) -> list[datetime]:
    return list(rrulestr(rule, dtstart=first).between(first, UNTIL, inc=True))


def _offset(value: str) -> timedelta:
    found = re.fullmatch(r"([+-])(\d\d)(\d\d)(\d\d)?", value)
    assert found, value
    sign, hours, minutes, seconds = found.groups()
    length = timedelta(hours=int(hours), minutes=int(minutes), seconds=int(seconds or 0))
    return -length if sign == "-" else length


def _wall(value: str) -> datetime:
    return datetime.strptime(value, "%Y%m%dT%H%M%S")  # noqa: DTZ007 (a wall time)


def _first_instant(wall: datetime, offsets: list[tuple[datetime, timedelta]]) -> datetime:
    """The first instant at which the clock shows the wall time (section 3.3.5)."""
    for offset in sorted({offset for _, offset in offsets}, reverse=True):
        instant = (wall - offset).replace(tzinfo=UTC)
        begun = [held for onset, held in offsets if onset <= instant]
        assert begun, f"the zone says nothing about {wall}"
        if begun[-1] == offset:
            return instant
    raise AssertionError(f"no clock ever shows {wall}")
