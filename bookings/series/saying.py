"""A series in sentences: its rule and hours, what of it was moved, what is owed if it is cancelled."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta, tzinfo
from decimal import Decimal

from django.utils import timezone

from bookings.models import Session
from bookings.series.rules import FARTHEST, MOST_OCCURRENCES, shifted, wall_shift
from bookings.series.words import rule_in_words, said_with_year
from bookings.terms import owed_if_cancelled
from studio.clock import say, say_span
from studio.spans import Span

HOUSE_BOUND = (
    f"The rule names no end: it goes on as far as the house books ahead, at most {MOST_OCCURRENCES} sessions and "
    f"{round(FARTHEST / timedelta(days=365))} years."
)


def series_in_words(session: Session) -> str:
    """“every second Tuesday, 10:00 to 12:00, until 30 June 2027”; nothing for what doesn't repeat.

    The hours are this session's, unless it was moved by itself.
    """
    series = session.series
    if series is None:
        return ""
    if session.occurrence != session.load_in:
        return rule_in_words(series.rule, series.starts, series.tz)
    ends = shifted(series.starts, wall_shift(session.load_in, session.end, series.tz), series.tz)
    return rule_in_words(series.rule, series.starts, series.tz, ends)


def said_when(session: Session) -> str:
    return said_with_year(Span(session.load_in, session.end), session.room.site.tz)


def said_left_out(day: datetime, tz: tzinfo) -> str:
    """Like “Thu 18 March 2027, 19:00”."""
    return say(day, tz, dated=True)


def said_moved(session: Session) -> str:
    """Where an occurrence isn't when the rule has it."""
    if session.occurrence is None or session.occurrence == session.load_in:
        return ""
    return f"moved from {say(session.occurrence, session.room.site.tz)}"


def fees(sessions: Sequence[Session]) -> str:
    """What the frozen terms give in all, if the client cancels."""
    if not sessions:
        return "none is left."
    now = timezone.now()
    owed = [owed_if_cancelled(session, now) for session in sessions]
    sums = sum((one.amount for one in owed if one and one.amount), Decimal(0))
    unknown = sum(bool(one and one.percent and one.amount is None) for one in owed)
    currency = sessions[0].job.currency
    days = say_span(Span(sessions[0].load_in, sessions[-1].end), sessions[0].room.site.tz)
    more = f", and more for {unknown} of them, whose job has no rate yet" if unknown else ""
    return f"{len(sessions)} sessions, {days}; by the terms {sums} {currency} is owed if the client cancels{more}."
