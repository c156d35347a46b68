"""Usual working hours on the clock of a site. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from studio.spans import Span, gaps

A_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Usual:
    """Every week on this ISO 8601 weekday (1 is Monday); ends at or before starts means the next day."""

    weekday: int
    starts: time
    ends: time

    def on(self, day: date, tz: tzinfo) -> Span | None:
        """As the day has it; None where a clock change leaves nothing of it."""
        last = day if self.ends > self.starts else day + A_DAY
        start = datetime.combine(day, self.starts, tz).astimezone(UTC)
        end = datetime.combine(last, self.ends, tz).astimezone(UTC)
        return Span(start, end) if start < end else None


def usual_spans(pattern: Iterable[Usual], within: Span, tz: tzinfo) -> list[Span]:
    """Every usual span that touches `within`, which has an end."""
    rows, found = list(pattern), []
    day = within.start.astimezone(tz).date() - A_DAY
    while within.end and day <= within.end.astimezone(tz).date():
        of_day = [row.on(day, tz) for row in rows if row.weekday == day.isoweekday()]
        found += [span for span in of_day if span and span.overlaps(within)]
        day += A_DAY
    return found


def outside(call: Span, pattern: Sequence[Usual], tz: tzinfo) -> list[Span]:
    """The parts of a call that lie outside the usual hours; nothing when no hours are known."""
    return gaps(usual_spans(pattern, call, tz), call) if pattern else []
