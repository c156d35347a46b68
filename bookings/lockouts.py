"""The working spans of a lockout: each day's hours, while the room stays set between them. Pure."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta, tzinfo

from studio.spans import Span

ONE_DAY = timedelta(days=1)


def working_days(whole: Span, hours: tuple[time, time] | None, tz: tzinfo) -> list[Span]:
    """The parts of [load-in, end) that are worked, first to last; without hours all of it.

    hours are the same each day on the site's clock; a second hour at or before the first is the next day's.
    The first day begins with the load-in and the last one stops with the end, whatever the hours say.
    """
    if hours is None or whole.end is None:
        return [whole]
    found = []
    day = (whole.start.astimezone(tz) - ONE_DAY).date()
    while (span := _hours_of(day, hours, tz)).start < whole.end:
        start, end = max(span.start, whole.start), min(span.end or whole.end, whole.end)
        if start < end:
            found.append(Span(start, end))
        day += ONE_DAY
    return _reaching_the_ends(found, whole)


def _hours_of(day: date, hours: tuple[time, time], tz: tzinfo) -> Span:
    start = datetime.combine(day, hours[0], tz)
    end_day = day if hours[1] > hours[0] else day + ONE_DAY
    end = datetime.combine(end_day, hours[1], tz)
    return Span(start.astimezone(UTC), end.astimezone(UTC))


def _reaching_the_ends(found: list[Span], whole: Span) -> list[Span]:
    if not found or whole.end is None:
        return [whole]
    found[0] = Span(whole.start, found[0].end)
    found[-1] = Span(found[-1].start, whole.end)
    return found
