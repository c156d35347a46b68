"""A zone of the IANA database as a VTIMEZONE (RFC 5545 section 3.6.5). Pure.

The clock changes are found by asking `zoneinfo`, so they are those of the database that the house itself
reckons with. Changes that come back every year are written as one yearly rule; those that don't (Ramadan,
a law that changes) each get a sub-component of their own, because a large client ignores lists of dates.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache, lru_cache
from zoneinfo import ZoneInfo

from icalendar import Timezone, TimezoneDaylight, TimezoneStandard, vRecur

EVIDENCE_FROM = 2007  # a rule is begun as far back as it holds, no further than this year
EVIDENCE_AFTER = 10  # and believed when it foretells the changes of this many years more
STEP = timedelta(days=3)  # since 2007 no zone has changed its clock twice within a week
WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
UTC_NAMES = frozenset({"UTC", "UCT", "Universal", "Zulu", "Etc/UCT", "Etc/Universal", "Etc/Zulu"})
Rule = dict[str, str | int | list[int]]
Kind = tuple[timedelta, timedelta, str, bool]


@dataclass(frozen=True, slots=True)
class Change:
    """The instant `at` which a zone's clock is set from the offset `before` to `after`."""

    at: datetime
    before: timedelta
    after: timedelta
    name: str
    daylight: bool

    @property
    def wall(self) -> datetime:
        """What the clock shows just before it is set: RFC 5545 gives onsets so."""
        return (self.at + self.before).replace(tzinfo=None)

    @property
    def kind(self) -> Kind:
        return self.before, self.after, self.name, self.daylight


@dataclass(frozen=True, slots=True)
class Observance:
    """A sub-component of a VTIMEZONE: in force from `onset` on, every year again where there is a rule."""

    onset: datetime
    before: timedelta
    after: timedelta
    name: str
    daylight: bool
    rule: Rule | None = None


def tzid_of(zone: str) -> str:
    """The name that a calendar calls the zone by. Validators refuse TZID=UTC and its other names."""
    return "Etc/UTC" if zone in UTC_NAMES else zone


def vtimezone(zone: str, first_year: int, last_year: int) -> Timezone:
    """The definition of the zone, right for every instant from first_year to last_year."""
    definition = Timezone()
    definition.add("TZID", tzid_of(zone))
    for observance in observances(zone, first_year, last_year):
        definition.add_component(_component(observance))
    return definition


@lru_cache(maxsize=256)
def observances(zone: str, first_year: int, last_year: int) -> tuple[Observance, ...]:
    """What holds in the zone from first_year to last_year, in order of onset."""
    evidence = min(first_year - 1, EVIDENCE_FROM), last_year + EVIDENCE_AFTER
    groups: dict[Kind, list[Change]] = {}
    for change in changes(zone, _year_start(evidence[0]), _year_start(evidence[1] + 1)):
        groups.setdefault(change.kind, []).append(change)
    found = [
        observance
        for group in groups.values()
        for observance in _observances(group, first_year - 1, last_year, evidence[1])
    ]
    if not found or not all(part.rule and part.onset.year < first_year for part in found):
        found.append(_before_all(zone, _year_start(first_year - 1)))
    return tuple(sorted(found, key=lambda observance: observance.onset))


@cache
def is_utc(zone: str) -> bool:
    """Whether the zone's clock has been UTC for years: readers take such a zone for none at all."""
    parts = observances(zone, EVIDENCE_FROM, EVIDENCE_FROM + 30)
    return not any(part.before or part.after for part in parts)


def changes(zone: str, begin: datetime, end: datetime) -> Iterator[Change]:
    """Every change of the zone's offset from UTC with begin < at < end, to the second."""
    tz = ZoneInfo(zone)
    at, offset = begin, _offset(tz, begin)
    while at < end:
        later = min(at + STEP, end)
        then = _offset(tz, later)
        if then != offset:
            yield _change(tz, _turn(tz, at, later))
        at, offset = later, then


def yearly_rule(walls: list[datetime], last_year: int) -> Rule | None:
    """The RRULE that gives just these onsets, one a year up to last_year; None if no rule does."""
    if not walls or [wall.year for wall in walls] != list(range(walls[0].year, last_year + 1)):
        return None
    if len({(wall.month, wall.time()) for wall in walls}) > 1:
        return None
    rule: Rule = {"FREQ": "YEARLY", "BYMONTH": walls[0].month}
    days = [wall.day for wall in walls]
    if len({wall.weekday() for wall in walls}) > 1:
        return rule | {"BYMONTHDAY": days[0]} if len(set(days)) == 1 else None
    weekday = WEEKDAYS[walls[0].weekday()]
    if all(wall.day > monthrange(wall.year, wall.month)[1] - 7 for wall in walls):
        return rule | {"BYDAY": f"-1{weekday}"}
    if len({(day - 1) // 7 for day in days}) == 1:
        return rule | {"BYDAY": f"{(days[0] - 1) // 7 + 1}{weekday}"}
    if max(days) - min(days) < 7:
        week = list(range(min(days), min(min(days) + 7, 32)))
        return rule | {"BYDAY": weekday, "BYMONTHDAY": week}
    return None


def _observances(group: list[Change], first: int, last: int, last_evidence: int) -> Iterator[Observance]:
    """One with the rule that gives every onset from some year up to `first` on; else one for each onset."""
    walls = [change.wall for change in group]
    for number in range(sum(wall.year < first for wall in walls) + 1):
        if rule := yearly_rule(walls[number:], last_evidence):
            yield _observance(group[number], rule)
            return
    yield from (_observance(change) for change in group if first <= change.wall.year <= last)


def _observance(change: Change, rule: Rule | None = None) -> Observance:
    return Observance(change.wall, change.before, change.after, change.name, change.daylight, rule)


def _before_all(zone: str, at: datetime) -> Observance:
    """What holds before the first change, or for ever in a zone without changes."""
    there = at.astimezone(ZoneInfo(zone))
    offset = there.utcoffset() or timedelta()
    return Observance(datetime(1970, 1, 1), offset, offset, there.tzname() or "", False)  # noqa: DTZ001


def _year_start(year: int) -> datetime:
    return datetime(year, 1, 1, tzinfo=UTC)


def _offset(tz: ZoneInfo, at: datetime) -> timedelta:
    return at.astimezone(tz).utcoffset() or timedelta()


def _turn(tz: ZoneInfo, before: datetime, after: datetime) -> datetime:
    """The first second on which the clock shows what it shows `after`."""
    offset = _offset(tz, after)
    while after - before > timedelta(seconds=1):
        middle = before + timedelta(seconds=(after - before) // timedelta(seconds=2))
        if _offset(tz, middle) == offset:
            after = middle
        else:
            before = middle
    return after


def _change(tz: ZoneInfo, at: datetime) -> Change:
    """DAYLIGHT is the half of the year that is ahead: readers don't expect a summer time of less than none,
    which is how the database writes Ireland and Morocco."""
    before, after = (at - timedelta(seconds=1)).astimezone(tz), at.astimezone(tz)
    offsets = before.utcoffset() or timedelta(), after.utcoffset() or timedelta()
    summer_time = bool(before.dst() or after.dst())
    return Change(at, *offsets, after.tzname() or "", summer_time and offsets[1] > offsets[0])


def _component(observance: Observance) -> TimezoneStandard | TimezoneDaylight:
    part = TimezoneDaylight() if observance.daylight else TimezoneStandard()
    part.add("DTSTART", observance.onset)
    part.add("TZOFFSETFROM", observance.before)
    part.add("TZOFFSETTO", observance.after)
    part.add("TZNAME", observance.name)
    if observance.rule:
        part.add("RRULE", vRecur(observance.rule))
    return part
