"""Whose clock a time is on. A zone that the file defines itself wins over one of the same name elsewhere."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from functools import lru_cache
from typing import Protocol
from zoneinfo import ZoneInfo, available_timezones

from icalendar.timezone.windows_to_olson import WINDOWS_TO_OLSON

from bookings.busy.limits import Budget, Problem, RuleBudget
from bookings.busy.lines import Component, unescaped
from bookings.busy.rules import parse_rule
from bookings.busy.walking import walls

OFFSET = re.compile(r"([+-])(\d\d):?(\d\d)?:?(\d\d)?", re.ASCII)
OFFSET_NAME = re.compile(r"(?:UTC|GMT)? ?([+-])(\d{1,2}):?(\d\d)?", re.ASCII | re.IGNORECASE)
SENTENCE_NAME = re.compile(r"\((?:UTC|GMT)(?:([+-])(\d\d)[:.]?(\d\d))?\) (.+)", re.ASCII | re.IGNORECASE)
BETWEEN_CITIES = re.compile(r"\s*[,/;:]\s*")
AREA_NAMES = {  # from memory: what calendar programs call these at home
    "coordinated universal time": "UTC",
    "atlantic time": "America/Halifax",
    "eastern time": "America/New_York",
    "central time": "America/Chicago",
    "mountain time": "America/Denver",
    "pacific time": "America/Los_Angeles",
}
EARLIEST = datetime(1970, 1, 1)  # noqa: DTZ001 on the clock of a definition
STANDARD_DAY = datetime(2026, 1, 15, tzinfo=UTC)


class Zone(Protocol):
    """Wall times to instants as RFC 5545 section 3.3.5 has it: a time that the clocks skip takes the offset
    before the gap, one that happens twice is the first."""

    @property
    def name(self) -> str: ...

    def utc(self, wall: datetime) -> datetime: ...

    def wall(self, instant: datetime) -> datetime: ...


class NamedZone:
    """A zone of the IANA database, or a fixed offset."""

    def __init__(self, tz: tzinfo, name: str) -> None:
        self.tz = tz
        self.name = name

    def utc(self, wall: datetime) -> datetime:
        return wall.replace(tzinfo=self.tz, fold=0).astimezone(UTC)

    def wall(self, instant: datetime) -> datetime:
        return instant.astimezone(self.tz).replace(tzinfo=None, fold=0)


class WrittenZone:
    """A zone by its changes: (instant, offset before, offset after), in order."""

    def __init__(self, name: str, changes: list[tuple[datetime, timedelta, timedelta]]) -> None:
        self.name = name
        self.instants = [instant for instant, _, _ in changes]
        self.offsets = [changes[0][1], *(after for _, _, after in changes)]
        self.cutoffs = [
            instant.replace(tzinfo=None) + max(self.offsets[i], self.offsets[i + 1])
            for i, instant in enumerate(self.instants)
        ]

    def utc(self, wall: datetime) -> datetime:
        return (wall - self.offsets[bisect_right(self.cutoffs, wall)]).replace(tzinfo=UTC)

    def wall(self, instant: datetime) -> datetime:
        offset = self.offsets[bisect_right(self.instants, instant)]
        return instant.astimezone(UTC).replace(tzinfo=None) + offset


class Zones:
    """The clocks of one calendar. `dates` decides whole days, `floating` times without a zone.

    note: told in words when a name had to be interpreted.
    """

    def __init__(
        self,
        reader: ZoneInfo,
        calendar: Component,
        until: datetime,
        budget: Budget,
        note: Callable[[str], None],
    ) -> None:
        self.dates: Zone = NamedZone(reader, str(reader))
        self.floating: Zone = self.dates
        self.until = until
        self.budget = budget
        self.note = note
        self.known: dict[str, Zone | None] = {}
        self.definitions: dict[str, Component] = {}
        for part in calendar.parts:
            if part.kind == "VTIMEZONE" and (name := part.text("TZID")):
                self.definitions.setdefault(_key(name), part)
        if name := calendar.text("X-WR-TIMEZONE"):
            self.floating = self.of_the_calendar(name)

    def of_the_calendar(self, name: str) -> Zone:
        """X-WR-TIMEZONE is not standard, but the best sign of what its owner means by a time without zone."""
        if zone := self.find(name):
            return zone
        self.note(f"the zone that the calendar names, “{name[:60]}”, is unknown; {self.dates.name} is used")
        return self.dates

    def named(self, name: str, what: str = "a time") -> Zone:
        """The zone of this TZID. Raises Problem when nobody knows it: never a guess in silence."""
        if zone := self.find(unescaped(name)):
            return zone
        badly = _key(name) in self.definitions
        lacks = "the file defines in a way that can't be read" if badly else "the file doesn't define"
        raise Problem(
            f"{what} is in the zone “{name[:60]}”, which {lacks} and the zone database "
            "doesn't know; the time can't be placed"
        )

    def find(self, name: str) -> Zone | None:
        key = _key(name)
        if key not in self.known:
            self.known[key] = self.defined(key, name) or self.elsewhere(name)
        return self.known[key]

    def defined(self, key: str, name: str) -> Zone | None:
        definition = self.definitions.get(key)
        if definition is None:
            return None
        try:
            changes = sorted(
                change
                for part in definition.parts
                if part.kind in ("STANDARD", "DAYLIGHT")
                for change in observance(part, self.until, self.budget)
            )
        except Problem as problem:
            self.note(f"the definition of the zone “{name[:60]}” can't be used: {problem}")
            changes = []
        if changes:
            return WrittenZone(name, changes)
        return self.elsewhere(definition.text("X-LIC-LOCATION"))

    def elsewhere(self, name: str) -> Zone | None:
        """By the zone database, the names that a desktop system uses, or an offset in the name itself."""
        for guess in _guesses(name):
            if zone := iana_name(guess):
                return NamedZone(ZoneInfo(zone), zone)
        if found := OFFSET_NAME.fullmatch(name):
            return _fixed(found[1], int(found[2]), int(found[3] or 0))
        if zone := _by_cities(name):
            self.note(f"the zone “{name[:80]}” is not defined in the file and is read as {zone}")
            return NamedZone(ZoneInfo(zone), zone)
        return None


def observance(
    part: Component, until: datetime, budget: Budget
) -> Iterator[tuple[datetime, timedelta, timedelta]]:
    """The changes of a STANDARD or DAYLIGHT part since 1970, or its first if that is all there is."""
    budget.spend()
    before, after = utc_offset(part, "TZOFFSETFROM"), utc_offset(part, "TZOFFSETTO")
    first = _clock(part.text("DTSTART"))
    onsets = {first}
    for line in part.all("RRULE"):
        rule = parse_rule(line.value)
        last = _until(rule.until, before)
        end = min(until.replace(tzinfo=None), last)
        onsets |= set(walls(rule, first, max(first, EARLIEST), end, RuleBudget(budget)))
    for line in part.all("RDATE"):
        for value in line.value.split(","):
            budget.spend()
            onsets.add(_clock(value.partition("/")[0]))
    for onset in onsets:
        yield (onset - before).replace(tzinfo=UTC), before, after


def utc_offset(part: Component, name: str) -> timedelta:
    found = OFFSET.fullmatch(part.text(name))
    offset = _delta(found[1], int(found[2]), int(found[3] or 0), int(found[4] or 0)) if found else None
    if offset is None or abs(offset) >= timedelta(hours=24):
        raise Problem(f"{name} can't be read")
    return offset


def _clock(text: str) -> datetime:
    """A local time of a definition; kept clear of the ends of the calendar."""
    try:
        wall = datetime.strptime(text.strip().upper().rstrip("Z")[:15], "%Y%m%dT%H%M%S")  # noqa: DTZ007
    except ValueError:
        raise Problem("a date in it can't be read") from None
    return min(max(wall, wall.replace(year=1600, day=1)), wall.replace(year=9000, day=1))


def _until(text: str, before: timedelta) -> datetime:
    if not text:
        return datetime.max  # noqa: DTZ901 a wall time
    if "T" not in text:
        return _clock(f"{text}T235959")
    return _clock(text) + (before if text.endswith("Z") else timedelta())


def _delta(sign: str, hours: int, minutes: int, seconds: int = 0) -> timedelta:
    return timedelta(hours=hours, minutes=minutes, seconds=seconds) * (-1 if sign == "-" else 1)


def _fixed(sign: str, hours: int, minutes: int) -> Zone | None:
    offset = _delta(sign, hours, minutes)
    if hours > 14 or minutes > 59:
        return None
    return NamedZone(timezone(offset), f"UTC{sign}{hours:02}:{minutes:02}")


def _key(name: str) -> str:
    return " ".join(unescaped(name).split()).casefold()


@lru_cache(maxsize=1)
def _iana() -> dict[str, str]:
    return {name.casefold(): name for name in available_timezones()}


@lru_cache(maxsize=1)
def _desktop() -> dict[str, str]:
    return {name.casefold(): zone for name, zone in WINDOWS_TO_OLSON.items()}


def iana_name(name: str) -> str | None:
    """The name as the zone database spells it."""
    key = name.casefold()
    return _iana().get(key) or _iana().get(_desktop().get(key, "").casefold())


def _guesses(name: str) -> Iterator[str]:
    """The name, and its last parts: some programs put their own path before it."""
    plain = " ".join(name.split())
    yield plain
    yield plain.replace(" ", "_")
    parts = plain.split("/")
    for keep in (3, 2, 1):
        if len(parts) > keep:
            yield "/".join(parts[-keep:])


def _by_cities(name: str) -> str | None:
    """“(UTC+01:00) Amsterdam, Berlin” by its first city that the zone database has at that winter offset.

    Without an offset in front the cities must agree in theirs: one alone might be anywhere.
    """
    found = SENTENCE_NAME.fullmatch(name)
    told = found[4] if found else name
    cities = [_cities().get(city.replace(" ", "_").casefold()) for city in BETWEEN_CITIES.split(told.strip())]
    area = AREA_NAMES.get(told.partition(" (")[0].casefold())
    zones = [zone for zone in (area, *cities) if zone]
    if found:
        offset = _delta(found[1] or "+", int(found[2] or 0), int(found[3] or 0))
        return next((zone for zone in zones if _standard_offset(zone) == offset), None)
    agree = len({_standard_offset(zone) for zone in zones}) == 1
    return zones[0] if agree and ("(" in told or len(zones) > 1) else None


@lru_cache(maxsize=1)
def _cities() -> dict[str, str]:
    """The last part of each name; where two have the same, the first in the alphabet."""
    return {key.rpartition("/")[2]: zone for key, zone in sorted(_iana().items(), reverse=True) if "/" in key}


def _standard_offset(zone: str) -> timedelta | None:
    """The offset when the clocks are not put forward, whichever half of the year that is."""
    tz = ZoneInfo(zone)
    winter = STANDARD_DAY.astimezone(tz).utcoffset()
    summer = STANDARD_DAY.replace(month=7).astimezone(tz).utcoffset()
    return min(winter, summer) if winter is not None and summer is not None else None
