"""How a job stands in plain words, and what it still needs."""

from __future__ import annotations

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
    """From all its sessions, cancelled ones too."""
    standing = [session for session in sessions if not session.cancelled]
    if not sessions:
        return State("broken", "nothing booked yet")
    if not standing:
        return State("crossed", f"{several(len(sessions), 'session')}, all cancelled")
    if running := next((s for s in standing if s.load_in <= now < s.end), None):
        return State("half", f"in {running.room.name} now, “{running.title}”")
    ahead = sorted((s for s in standing if s.load_in > now), key=lambda s: s.load_in)
    if ahead:
        day = say_day(ahead[0].load_in.astimezone(ahead[0].room.site.tz).date())
        return State(
            "full", f"{several(len(ahead), 'session')} ahead, {'next' if len(ahead) > 1 else 'on'} {day}"
        )
    if missing := [s for s in standing if s.worked is None]:
        words = (
            "times not entered" if len(missing) == len(standing) else f"times of {len(missing)} not entered"
        )
        return State("half", f"finished, {words}")
    return State("full", "finished, all times entered")


def needs_of_job(job: Job, sessions: Sequence[Session], needs: Mapping[int, Sequence[str]]) -> list[str]:
    """Sentences about the rate and each session that needs something, with its day."""
    found = [] if job.hourly_rate is not None else ["no rate"]
    for session in sessions:
        if needs.get(session.pk):
            day = say_day(session.load_in.astimezone(session.room.site.tz).date())
            found.append(f"{session.title}, {day}: {', '.join(needs[session.pk])}")
    return found


def bill_of(job: Job, sessions: Sequence[Session]) -> Bill:
    """Booked hours of what stands, at the job's rate."""
    return bill(
        job.hourly_rate,
        [
            (line_words(session), session.booked, session.worked)
            for session in sessions
            if not session.cancelled
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
