"""When something falls due, and when there is time for it. Pure: spans and instants in, instants out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta, tzinfo
from enum import StrEnum

from studio.clock import day_span
from studio.spans import Span, gaps, merged

HOUR = timedelta(hours=1)
QUARTER = timedelta(minutes=15)


class Why(StrEnum):
    DAYS = "days"
    HOURS = "hours"
    USE = "use"


@dataclass(frozen=True, slots=True)
class Rule:
    """since: when it was done last, else from when it is counted. done: whether it ever was.

    Of every_days, every_hours and before_use_days at least one is given; what comes first decides.
    """

    since: datetime
    done: bool = False
    every_days: int | None = None
    every_hours: int | None = None
    before_use_days: int | None = None


@dataclass(frozen=True, slots=True)
class Due:
    """at: when it falls due, past or to come; None where that can't be foreseen. opens: from when it makes sense.

    hours: of use since it was done.
    """

    why: Why
    at: datetime | None
    opens: datetime
    hours: float


def hours_within(uses: Iterable[Span], since: datetime, until: datetime) -> float:
    """Elapsed hours of use between two instants; uses that overlap count once."""
    if until <= since:
        return 0.0
    clipped = (
        Span(max(use.start, since), min(use.end or until, until))
        for use in uses
        if use.overlaps(Span(since, until))
    )
    return sum(span.length / HOUR for span in merged(clipped))


def falls_due(rule: Rule, uses: Sequence[Span], now: datetime, tz: tzinfo) -> Due:
    """What falls due first, by the uses that were and those that are booked. tz: the clock that counts days."""
    hours = hours_within(uses, rule.since, now)
    found: list[tuple[datetime, Why, datetime]] = []
    if rule.every_days:
        found.append((_days_later(rule.since, rule.every_days, tz), Why.DAYS, rule.since))
    if rule.every_hours and (at := _used_up(uses, rule.since, rule.every_hours)):
        found.append((at, Why.HOURS, rule.since))
    if rule.before_use_days and (use := _next_uncovered(rule, rule.before_use_days, uses, now, tz)):
        found.append((use.start, Why.USE, _days_later(use.start, -rule.before_use_days, tz)))
    if found:
        first, why, opens = min(found)
        return Due(why, first, opens, hours)
    return Due(Why.HOURS if rule.every_hours else Why.USE, None, rule.since, hours)


def _days_later(at: datetime, days: int, tz: tzinfo) -> datetime:
    """The start of that day for a date to come; so many days before, at the same hour, for one before."""
    day = at.astimezone(tz).date() + timedelta(days=days)
    if days > 0:
        return day_span(day, tz).start
    return datetime.combine(day, at.astimezone(tz).time(), tz)


def _used_up(uses: Iterable[Span], since: datetime, hours: float) -> datetime | None:
    """The instant at which so many hours of use are reached."""
    left = hours * HOUR
    for use in merged(span for span in uses if span.end is None or span.end > since):
        start = max(use.start, since)
        length = Span(start, use.end).length
        if length >= left:
            return start + left
        left -= length
    return None


def _next_uncovered(rule: Rule, days: int, uses: Iterable[Span], now: datetime, tz: tzinfo) -> Span | None:
    """The next use to begin that was not prepared for within so many days before it."""
    for use in sorted(uses, key=lambda span: span.start):
        first = _days_later(use.start, -days, tz)
        if use.start > now and not (rule.done and first <= rule.since <= use.start):
            return use
    return None


@dataclass(frozen=True, slots=True)
class Hours:
    """When the house is open. days: ISO 8601 weekdays, 1 for Monday."""

    tz: tzinfo
    opens: time
    closes: time
    days: frozenset[int]

    def within(self, span: Span) -> Iterator[Span]:
        """The open hours of each day of a span; without end where it has none."""
        day = span.start.astimezone(self.tz).date()
        while span.end is None or day_span(day, self.tz).start < span.end:
            starts, ends = (datetime.combine(day, wall, self.tz) for wall in (self.opens, self.closes))
            if day.isoweekday() in self.days and Span(starts, ends).overlaps(span):
                yield Span(max(starts, span.start), min(ends, span.end or ends))
            day += timedelta(days=1)


def first_slot(busy: Sequence[Span], window: Span, length: timedelta, hours: Hours) -> datetime | None:
    """The first quarter of an hour from which it is free for so long, within open hours.

    What takes longer than a day is open may begin and end at any hour. None where no such time is left.
    """
    for part in hours.within(window) if _fits_a_day(length, hours) else [window]:
        for gap in gaps(busy, part):
            start = _next_quarter(gap.start, hours.tz)
            if gap.end is None or start + length <= gap.end:
                return start
    return None


def _fits_a_day(length: timedelta, hours: Hours) -> bool:
    minutes = [wall.hour * 60 + wall.minute for wall in (hours.opens, hours.closes)]
    return length <= timedelta(minutes=minutes[1] - minutes[0])


def _next_quarter(at: datetime, tz: tzinfo) -> datetime:
    there = at.astimezone(tz)
    over = timedelta(minutes=there.minute % 15, seconds=there.second, microseconds=there.microsecond)
    return at + (QUARTER - over) if over else at
