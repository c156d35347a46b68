"""Instants said in words on a site's clock, and a site's days as spans. Pure, but for which year it is."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta, tzinfo

from studio.spans import Span


def day_span(day: date, tz: tzinfo) -> Span:
    """The calendar day on the site's clock: 23 or 25 hours long when the clocks change."""
    start = datetime.combine(day, time(), tz).astimezone(UTC)
    return Span(start, datetime.combine(day + timedelta(days=1), time(), tz).astimezone(UTC))


def this_year() -> int:
    return datetime.now(UTC).year


def say_day(day: date) -> str:
    """Like “Thu 4 March”, and “Thu 4 March 2027” in any year but that one."""
    return f"{day:%a} {day.day} {day:%B}" if day.year == this_year() else say_dated(day)


def say_dated(day: date) -> str:
    """With its year in any year, like “Thu 4 March 2027”."""
    return f"{day:%a} {day.day} {day:%B} {day.year}"


def say(instant: datetime, tz: tzinfo, dated: bool = False) -> str:
    """Like “Thu 4 March, 16:40”; dated: with its year in any year, for words that are kept and compared."""
    there = instant.astimezone(tz)
    day = say_dated(there.date()) if dated else say_day(there.date())
    return f"{day}, {there:%H:%M}"


def say_span(span: Span, tz: tzinfo, dated: bool = False) -> str:
    """Like “Thu 4 March, 10:00 to 19:00”; the second day is named when it is another one."""
    start = say(span.start, tz, dated)
    if span.end is None:
        return f"from {start}, end not known"
    end = span.end.astimezone(tz)
    same_day = end.date() == span.start.astimezone(tz).date()
    return f"{start} to {f'{end:%H:%M}' if same_day else say(span.end, tz, dated)}"


def say_length(length: timedelta) -> str:
    """Like “8 h” or “1 h 30 min”."""
    minutes = round(length.total_seconds() / 60)
    hours, rest = divmod(minutes, 60)
    parts = [f"{hours} h"] * bool(hours) + [f"{rest} min"] * bool(rest)
    return " ".join(parts) or "0 min"


def twice_or_never(wall: datetime, tz: tzinfo) -> str | None:
    """“never” for a wall time that a clock change skips, “twice” for one that it repeats, else None."""
    first, second = wall.replace(tzinfo=tz, fold=0), wall.replace(tzinfo=tz, fold=1)
    if first.utcoffset() == second.utcoffset():
        return None
    back = first.astimezone(UTC).astimezone(tz).replace(tzinfo=None)
    return "twice" if back == wall else "never"
