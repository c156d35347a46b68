"""The values that matter here: dates, date-times, lengths, periods (RFC 5545 sections 3.3.4 to 3.3.14)."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from bookings.busy.limits import Problem
from bookings.busy.lines import Line
from bookings.busy.zones import NamedZone, Zone, Zones

DATE = re.compile(r"(\d{4})(\d\d)(\d\d)", re.ASCII)
DATE_TIME = re.compile(r"(\d{4})(\d\d)(\d\d)T(\d\d)(\d\d)(\d\d)(Z?)", re.ASCII)
DURATION = re.compile(
    r"([+-]?)P(?:(\d{1,6})W)?(?:(\d{1,6})D)?(?:T(?:(\d{1,8})H)?(?:(\d{1,8})M)?(?:(\d{1,10})S)?)?", re.ASCII
)
IN_UTC = NamedZone(UTC, "UTC")


@dataclass(frozen=True, slots=True)
class Stamp:
    """A date or a time as written: `wall` on the clock of `zone`. A date is its midnight."""

    wall: datetime
    zone: Zone
    is_date: bool = False
    floating: bool = False

    @property
    def instant(self) -> datetime:
        return self.zone.utc(self.wall)


@dataclass(frozen=True, slots=True)
class Length:
    """How long an entry is: calendar days, then exact time (RFC 5545 section 3.3.6)."""

    days: int = 0
    exact: timedelta = timedelta()

    @property
    def at_most(self) -> timedelta:
        """No day is longer than 25 hours, or 26 to be sure."""
        return timedelta(hours=26 * self.days) + self.exact

    def end(self, wall: datetime, zone: Zone) -> datetime:
        """The instant at which something that starts then has ended."""
        return zone.utc(wall + timedelta(days=self.days)) + self.exact


@dataclass(frozen=True, slots=True)
class Read:
    """A stamp, and what was wrong with the way it was written, if it could be read all the same."""

    stamp: Stamp
    fault: str = ""


def stamp(line: Line, zones: Zones, what: str, text: str | None = None) -> Read:
    """The DATE or DATE-TIME of a line, or of one of its values. Raises Problem in words about `what`."""
    written = (line.value if text is None else text).strip()
    said = line.upper("VALUE")
    if found := DATE.fullmatch(written):
        read = Stamp(_moment(written, what, *found.groups()), zones.dates, is_date=True)
        return Read(read, f"{what} says VALUE=DATE-TIME but is a date" if said == "DATE-TIME" else "")
    found = DATE_TIME.fullmatch(written.upper())
    if not found:
        raise Problem(f"{what} cannot be read: “{written[:60]}” is not written like 20260611T090000")
    *figures, utc = found.groups()
    wall = _moment(written, what, *figures)
    fault = f"{what} says VALUE=DATE with a time; it is read as a time" if said == "DATE" else ""
    if utc:
        return Read(Stamp(wall, IN_UTC), fault)
    if name := line.parameters.get("TZID", ""):
        return Read(Stamp(wall, zones.named(name, what)), fault)
    return Read(Stamp(wall, zones.floating, floating=True), fault)


def _moment(written: str, what: str, *figures: str) -> datetime:
    """A second of 60 is read as 59 (RFC 5545 section 3.3.12)."""
    numbers = [int(figure) for figure in figures]
    if numbers[0] in (1, 9999):  # no room for the offset of a zone
        raise Problem(f"{what} lies outside the years that can be read: “{written[:30]}”")
    if len(numbers) == 6 and numbers[5] == 60:
        numbers[5] = 59
    try:
        return datetime(*numbers)  # type: ignore[arg-type]  # noqa: DTZ001 a wall time, its zone stands beside it
    except ValueError:
        raise Problem(f"{what} cannot be read: there is no “{written[:30]}” in the calendar") from None


def duration(text: str, what: str) -> Length:
    """P15DT5H0M20S; never negative here. Raises Problem."""
    found = DURATION.fullmatch(text.strip().upper())
    if not found or text.strip().upper().endswith(("P", "T")):
        raise Problem(f"{what} cannot be read: “{text[:40]}” is not written like PT1H30M")
    weeks, days, hours, minutes, seconds = (int(figure or 0) for figure in found.groups()[1:])
    length = Length(weeks * 7 + days, timedelta(hours=hours, minutes=minutes, seconds=seconds))
    if found[1] == "-" and length != Length():
        raise Problem(f"{what} is a negative length: “{text[:40]}”")
    return length


def period(line: Line, text: str, zones: Zones, what: str) -> tuple[Stamp, Length]:
    """start/end or start/length. Raises Problem, also when the end is not after the start."""
    start_text, _, end_text = text.partition("/")
    start = stamp(Line(line.name, {**line.parameters, "VALUE": ""}, ""), zones, what, start_text).stamp
    if end_text.strip().upper().startswith(("P", "+P", "-P")):
        return start, duration(end_text, what)
    end = stamp(Line(line.name, {**line.parameters, "VALUE": ""}, ""), zones, what, end_text).stamp
    if end.instant < start.instant:
        raise Problem(f"{what} ends before it starts: “{text[:60]}”")
    return start, Length(exact=end.instant - start.instant)
