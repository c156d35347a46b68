"""The hours and days that a board shows, and the lines across it. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from bookings.board.layout import Window
from studio.clock import day_span
from studio.spans import Span

HALF_HOUR = timedelta(minutes=30)
USUAL_DAY = (time(7), time(23))
DAYS = {"day": 1, "week": 7, "weeks": 28}


def first_day(day: date, view: str) -> date:
    """Weeks begin on Monday (ISO 8601)."""
    return day if view == "day" else day - timedelta(days=day.weekday())


def days_on_view(first: date, days: int, tz: tzinfo) -> Window:
    after = day_span(first + timedelta(days=days), tz)
    return Window(day_span(first, tz).start, after.start)


@dataclass(frozen=True, slots=True)
class Tick:
    """A line across the board with its label; at in percent of the window. strong: the first of several."""

    label: str
    at: float
    strong: bool = False


def hour_ticks(window: Window, tz: tzinfo) -> list[Tick]:
    """A tick at each whole hour of the site's clock: one is missing or there twice when the clocks change."""
    ticks = []
    instant = window.start
    while instant < window.end:
        there = instant.astimezone(tz)
        if there.minute == 0:
            ticks.append(Tick(f"{there:%H}", window.percent(instant)))
        instant += HALF_HOUR
    return ticks


def hours_shown(day: Window, spans: Iterable[Span], tz: tzinfo) -> Window:
    """The usual hours of a day, made wider by whole hours for what is early or late, never past the day."""
    date = day.start.astimezone(tz).date()
    start, end = (datetime.combine(date, at, tz).astimezone(UTC) for at in USUAL_DAY)
    for span in spans:
        if day.shows(span):
            seen = day.part_of(span)
            start, end = min(start, seen.start), max(end, seen.end)
    start -= timedelta(minutes=start.astimezone(tz).minute)
    end += timedelta(minutes=-end.astimezone(tz).minute % 60)
    return Window(max(start, day.start), min(end, day.end))


def day_ticks(window: Window, first: date, days: int, tz: tzinfo) -> list[Tick]:
    """A tick a day; of several weeks the Mondays stand out, and the other days are numbers."""
    dates = [first + timedelta(days=number) for number in range(days)]
    return [
        Tick(
            f"{day:%a} {day.day}" if days <= 7 or not day.weekday() else str(day.day),
            window.percent(day_span(day, tz).start),
            days > 7 and not day.weekday(),
        )
        for day in dates
    ]
