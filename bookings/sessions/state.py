"""How a session stands, as a mark and words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, tzinfo

from bookings.models import Session
from studio.clock import say, say_day, say_length, say_span
from studio.spans import Span


@dataclass(frozen=True, slots=True)
class State:
    """mark is one of the stylesheet's: full, half, broken, crossed."""

    mark: str
    words: str
    more: str = ""


def state_of(session: Session, now: datetime, tz: tzinfo) -> State:
    if session.cancelled:
        when = f"on {say(session.cancelled_at, tz)}" if session.cancelled_at else ""
        return State("crossed", "cancelled", f"{when}: {session.cancelled_because}".removeprefix(": "))
    if session.status == Session.Status.HELD:
        if session.end <= now:
            return State("broken", "held, never confirmed", f"ended {say(session.end, tz)}")
        return State("broken", "held, not confirmed", _ahead(session, now, tz))
    if now < session.setup_at:
        return State("full", "confirmed", _ahead(session, now, tz))
    if now < session.load_in:
        return State("half", "being set up", f"load-in {session.load_in.astimezone(tz):%H:%M}")
    if now < session.end:
        return State("half", "running", f"until {say(session.end, tz)}")
    return _over(session, tz)


def _over(session: Session, tz: tzinfo) -> State:
    if session.worked_from is None or session.worked_to is None:
        return State("half", "over, times in and out not entered", f"ended {say(session.end, tz)}")
    worked = Span(session.worked_from, session.worked_to)
    return State("full", "finished", f"worked {say_span(worked, tz)}, {say_length(worked.length)}")


def _ahead(session: Session, now: datetime, tz: tzinfo) -> str:
    days = (session.load_in.astimezone(tz).date() - now.astimezone(tz).date()).days
    if days <= 0:
        return "today" if days == 0 else f"from {say_day(session.load_in.astimezone(tz).date())}"
    return "tomorrow" if days == 1 else f"in {days} days"
