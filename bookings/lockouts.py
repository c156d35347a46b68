"""The working spans of a lockout: each day's hours, while the room stays set between them. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from studio.clock import say, say_length
from studio.spans import Span

ONE_DAY = timedelta(days=1)
AROUND_HOURS = timedelta(hours=4)  # how far a load-in or an end may lie outside its day's hours


def working_days(whole: Span, hours: tuple[time, time] | None, tz: tzinfo) -> list[Span]:
    """The parts of [load-in, end) that are worked, first to last; without hours all of it.

    hours are the same each day on the site's clock; a second hour at or before the first is the next day's.
    The first day begins with the load-in and the last one stops with the end, whatever the hours say.
    """
    if hours is None or whole.end is None:
        return [whole]
    return _reaching_the_ends(daily(whole, hours, tz), whole)


def daily(whole: Span, hours: tuple[time, time], tz: tzinfo) -> list[Span]:
    """The parts of a span with an end that lie within these hours of a day, first to last."""
    found = []
    for span in _around(whole, hours, tz):
        start, end = max(span.start, whole.start), min(span.end or span.start, whole.end or span.start)
        if start < end:
            found.append(Span(start, end))
    return found


def trouble_with(
    whole: Span, downbeat: datetime, hours: tuple[time, time], tz: tzinfo
) -> Iterator[tuple[str, str]]:
    """What makes no sense about a lockout's hours: (“load_in”, “downbeat”, “end” or “day_to”, a sentence)."""
    said = f"{hours[0]:%H:%M} to {hours[1]:%H:%M}"
    if hours[0] == hours[1]:
        yield "day_to", "That is day and night. Give two different hours, or leave both empty."
        return
    end = whole.end or whole.start
    days = _around(Span(whole.start - ONE_DAY, end + ONE_DAY), hours, tz)
    near = say_length(AROUND_HOURS)
    load_in_fits = any(day.start - AROUND_HOURS <= whole.start and _before(whole.start, day) for day in days)
    if not load_in_fits:
        yield (
            "load_in",
            f"The load-in ({say(whole.start, tz)}) is far from the hours of each day, {said}. Let it lie "
            f"within them or at most {near} before them, or change the hours.",
        )
    if not any(day.start < end and end <= (day.end or end) + AROUND_HOURS for day in days):
        yield (
            "end",
            f"The end ({say(end, tz)}) is far from the hours of each day, {said}. Let it lie within them "
            f"or at most {near} after them, or change the hours.",
        )
    elif load_in_fits:
        worked = working_days(whole, hours, tz)
        if len(worked) == 1:
            yield "day_to", "All of it lies within one day: leave the hours of each day empty."
        elif downbeat not in worked[0]:
            yield (
                "downbeat",
                f"The downbeat ({say(downbeat, tz)}) isn't within the first day's hours, {said}.",
            )


def _before(instant: datetime, day: Span) -> bool:
    return day.end is None or instant < day.end


def _around(whole: Span, hours: tuple[time, time], tz: tzinfo) -> list[Span]:
    """Each day's hours from the day before the span on until it ends."""
    first, last = (
        whole.start.astimezone(tz).date() - ONE_DAY,
        (whole.end or whole.start).astimezone(tz).date(),
    )
    days = (first + ONE_DAY * number for number in range((last - first).days + 1))
    return [span for day in days if (span := _hours_of(day, hours, tz))]


def _hours_of(day: date, hours: tuple[time, time], tz: tzinfo) -> Span | None:
    """None where a clock change leaves nothing of them."""
    start = datetime.combine(day, hours[0], tz).astimezone(UTC)
    end_day = day if hours[1] > hours[0] else day + ONE_DAY
    end = datetime.combine(end_day, hours[1], tz).astimezone(UTC)
    return Span(start, end) if start < end else None


def _reaching_the_ends(found: list[Span], whole: Span) -> list[Span]:
    if not found or whole.end is None:
        return [whole]
    found[0] = Span(whole.start, found[0].end)
    found[-1] = Span(found[-1].start, whole.end)
    return found
