"""How a job stands in plain words, and what it still needs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from bookings.charges import Bill, bill
from bookings.models import Job, Session
from bookings.sessions.state import State
from studio.clock import say_day, say_span
from studio.spans import Span

COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def several(number: int, one: str) -> str:
    """“one session”, “two sessions”, “12 sessions”."""
    return f"{COUNTS[number] if number < len(COUNTS) else number} {one}{'' if number == 1 else 's'}"


def state_of_job(sessions: Sequence[Session], now: datetime) -> State:
    """From all its sessions; holds that still lie ahead are told apart."""
    firm = [session for session in sessions if session.status == Session.Status.CONFIRMED]
    holds = [s for s in sessions if s.status == Session.Status.HELD and s.end > now]
    held = f"and {several(len(holds), 'hold')}" if holds else ""
    if running := next((s for s in firm if s.load_in <= now < s.end), None):
        return State("half", f"in {running.room.name} now, “{running.title}”", held)
    if ahead := sorted((s for s in firm if s.load_in > now), key=lambda s: s.load_in):
        return State("full", f"{several(len(ahead), 'session')} ahead, {_first(ahead)}", held)
    if firm:
        return _over(firm, held)
    if holds:
        return State("broken", f"{several(len(holds), 'hold')}, nothing confirmed")
    if not sessions:
        return State("broken", "nothing booked yet")
    return State("crossed", f"nothing stands of {several(len(sessions), 'session')}")


def _first(ahead: Sequence[Session]) -> str:
    day = say_day(ahead[0].load_in.astimezone(ahead[0].room.site.tz).date())
    return f"{'next' if len(ahead) > 1 else 'on'} {day}"


def _over(firm: Sequence[Session], held: str) -> State:
    missing = sum(session.worked is None for session in firm)
    if not missing:
        return State("full", "finished, all times entered", held)
    if missing == len(firm):
        return State("half", "finished, times not entered", held)
    return State("half", f"finished, times of {several(missing, 'session')} not entered", held)


def needs_of_job(job: Job, sessions: Sequence[Session], needs: Mapping[int, Sequence[str]]) -> list[str]:
    """Sentences about the rate and each session that needs something, with its day."""
    found = [] if job.hourly_rate is not None else ["no rate"]
    for session in sessions:
        if needs.get(session.pk):
            day = say_day(session.load_in.astimezone(session.room.site.tz).date())
            found.append(f"{session.title}, {day}: {', '.join(needs[session.pk])}")
    return found


def needs_in_short(job: Job, sessions: Sequence[Session], needs: Mapping[int, Sequence[str]]) -> str:
    """The same for a list: each phrase once, with how many sessions it concerns."""
    counted = Counter(phrase for session in sessions for phrase in needs.get(session.pk, ()))
    found = [] if job.hourly_rate is not None else ["no rate"]
    found += [phrase if times == 1 else f"{phrase} ({times} sessions)" for phrase, times in counted.items()]
    return "; ".join(found)


def bill_of(job: Job, sessions: Sequence[Session]) -> Bill:
    """Booked hours of what is confirmed, at the job's rate; holds cost nothing here."""
    return bill(
        job.hourly_rate,
        [
            (line_words(session), session.paid, session.worked)
            for session in sessions
            if session.status == Session.Status.CONFIRMED
        ],
    )


def line_words(session: Session) -> str:
    return f"{session.title}, {say_span(Span(session.load_in, session.end), session.room.site.tz)}"


@dataclass(frozen=True, slots=True)
class JobLine:
    """A job in the list."""

    job: Job
    state: State
    needs: Sequence[str]
    bill: Bill
