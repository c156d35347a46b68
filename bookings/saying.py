"""Holds in sentences: whose place it is, until when, and what may be done about it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo

from bookings.ladder import stands_until
from bookings.models import Session
from bookings.ranking import ordinal
from studio.clock import say, say_span
from studio.spans import Span

WAYS_ON = "Hold the time and challenge them, or overrule them with a written reason."


def hold_sentences(holds: Sequence[Session], tz: tzinfo, over: Span | None = None) -> list[str]:
    """One for each hold, in order of asking: “The first hold, “Larkspur”, stands until …”

    over: what a confirmed session would take, past which they fall.
    """
    return [
        f"The {ordinal(place)} hold there, {_named(hold, tz)}, stands until {_until(hold, tz)}.{_falls(hold, over)}"
        for place, hold in enumerate(holds, start=1)
    ]


def _falls(hold: Session, over: Span | None) -> str:
    return f" Overruled, it falls: {_how_much(over, hold)} of its time is covered." if over else ""


def _how_much(whole: Span, hold: Session) -> str:
    return "all" if _covers(whole, hold.whole) else "part"


def place_sentence(rank: int, above: Sequence[Session], tz: tzinfo) -> str:
    """“Second hold; “Larkspur” is first until Fri 5 March, 18:00.”"""
    if not above:
        return "First hold: nobody stands above it."
    first = above[0]
    asked = ", by when it has to answer a challenge" if first.answer_by else ""
    return f"{ordinal(rank).capitalize()} hold; “{first.title}” is first until {_until(first, tz)}{asked}."


def kill_sentences(holds: Sequence[Session], whole: Span, tz: tzinfo) -> list[str]:
    """Which holds fall when a session takes this span, and whether it covers all of their time."""
    return [f"{_named(hold, tz)} falls: {_how_much(whole, hold)} of its time is covered." for hold in holds]


def _covers(whole: Span, span: Span) -> bool:
    return (
        whole.start <= span.start and whole.end is not None and span.end is not None and span.end <= whole.end
    )


def _named(hold: Session, tz: tzinfo) -> str:
    return f"“{hold.title}” ({hold.room.name}, {say_span(Span(hold.load_in, hold.end), tz)})"


def _until(hold: Session, tz: tzinfo) -> str:
    until = stands_until(hold)
    return say(until, tz) if until else "it is let go"
