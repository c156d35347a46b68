"""The two pages that a manager opens first: was last night finished, and what is open for tomorrow."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bookings.models import Rental, Session, SessionKind
from bookings.models.sessions import SessionQuerySet
from bookings.morning.looks import Told, told_of
from bookings.morning.touched import OF_FAULT, taken_by
from bookings.needs import needs_of
from bookings.rentals.hiring import state as rental_state
from studio.clock import day_span, say_length, say_span
from studio.models import Fault, Site
from studio.spans import Span

NIGHT = timedelta(hours=36)
FORGOTTEN = timedelta(days=60)  # how long a session without its times is asked after
AT_A_TIME = 40
NOT_WORKED = "not entered"


@dataclass(frozen=True, slots=True)
class Finished:
    """A session of last night; fine: everything is as it should be."""

    session: Session
    lines: Sequence[Told]

    @property
    def fine(self) -> bool:
        return all(line.fine for line in self.lines)


@dataclass(frozen=True, slots=True)
class Open:
    """A session of the day and what it still needs."""

    session: Session
    needs: Sequence[str]
    hours: str


def last_night(site: Site, now: datetime) -> list[Finished]:
    """What ended within the last day and a half, last first. A constant number of queries."""
    ended = sessions_of(site).filter(end__gt=now - NIGHT, end__lte=now, status=Session.Status.CONFIRMED)
    sessions = [session for session in ended.order_by("-end", "-pk") if session.is_work]
    faults, told = faults_since(sessions, now), told_of(sessions)
    return [
        Finished(session, [*own_lines(session, faults[session.pk], now), *told[session.pk]])
        for session in sessions
    ]


def own_lines(session: Session, faults: Sequence[Fault], now: datetime) -> list[Told]:
    return [
        _handover(session),
        _words_left(session),
        _room(session, now),
        Told("Faults", "; ".join(map(_said, faults)) or "none reported", not any(map(_unseen, faults))),
        *_hired(session, now),
    ]


def _unseen(fault: Fault) -> bool:
    """Whether nobody at the bench has looked at it yet."""
    return fault.closed_at is None and fault.step == Fault.Step.REPORTED


def _said(fault: Fault) -> str:
    return str(fault) if _unseen(fault) else f"{fault} ({fault.get_step_display()})"


def _handover(session: Session) -> Told:
    if session.worked_from is None or session.worked_to is None:
        return Told("Times in and out", NOT_WORKED, False)
    worked = Span(session.worked_from, session.worked_to)
    words = f"{say_span(worked, session.room.site.tz)}, {say_length(worked.length)}"
    over = session.worked_to - session.last
    words += f"; {say_length(over)} past the end" if over > timedelta() else ""
    return Told("Times in and out", words, True)


def _words_left(session: Session) -> Told:
    return Told("Handover", session.handover or "nothing written", bool(session.handover or session.worked))


def _room(session: Session, now: datetime) -> Told:
    if session.clear_at > now:
        return Told(
            "Room", f"turnaround until {session.clear_at.astimezone(session.room.site.tz):%H:%M}", True
        )
    return Told("Room", "its turnaround is over", True)


def _hired(session: Session, now: datetime) -> Iterable[Told]:
    for rental in session.rentals.all():
        words = rental_state(rental, now)
        yield Told("Hired in", f"{rental.what}: {words}", words in ("here", "given back"))


def faults_since(sessions: Sequence[Session], now: datetime) -> dict[int, list[Fault]]:
    """Faults reported since the setup of each session, on gear that it used or that lives in its room."""
    if not sessions:
        return {}
    reported = Fault.objects.filter(reported_at__gte=min(s.setup_at for s in sessions), reported_at__lte=now)
    faults = list(reported.select_related(*OF_FAULT).order_by("reported_at", "pk"))
    taken = taken_by(sessions)
    return {
        session.pk: [
            fault
            for fault in faults
            if session.setup_at <= fault.reported_at and taken[session.pk].touches(fault)
        ]
        for session in sessions
    }


def forgotten(site: Site, now: datetime) -> list[Session]:
    """What ended before that night and still has no times in and out, the last first and not all. One query."""
    ended = sessions_of(site).filter(end__gt=now - FORGOTTEN, end__lte=now - NIGHT)
    waiting = ended.filter(status=Session.Status.CONFIRMED, worked_to=None)
    work = waiting.exclude(kind__nature__in=[SessionKind.Nature.UPKEEP, SessionKind.Nature.CLOSURE])
    return list(work.order_by("-end", "-pk")[:AT_A_TIME])


def open_on(site: Site, day: date, now: datetime) -> list[Open]:
    """Sessions that touch the day on the site's clock, first come first, those that need nothing as well."""
    touching = sessions_of(site).touching(day_span(day, site.tz)).filter(end__gt=now)
    sessions = [session for session in touching.order_by("setup_at", "pk") if session.is_work]
    needs = needs_of(sessions, now)
    faults = faults_that_touch(sessions)
    return [
        Open(session, [*needs[session.pk], *faults.get(session.pk, [])], hours_on(day, session))
        for session in sessions
    ]


def hours_on(day: date, session: Session) -> str:
    """Like “10:00 to 18:00”, with the name of whichever day isn't this one: “Wed 20:30 to 00:30”."""
    tz = session.room.site.tz
    first, last = session.downbeat.astimezone(tz), session.end.astimezone(tz)
    if last.date() == day + timedelta(days=1) and first.date() == day:
        return f"{first:%H:%M} to {last:%H:%M}"
    return " to ".join(f"{t:%H:%M}" if t.date() == day else f"{t:%a %H:%M}" for t in (first, last))


def faults_that_touch(sessions: Sequence[Session]) -> Mapping[int, list[str]]:
    """Open faults of what a session has taken or finds in its rooms: “Oak channel 3: no phantom”."""
    taken = taken_by(sessions)
    faults = list(Fault.objects.open().select_related(*OF_FAULT))
    return {pk: [str(fault) for fault in faults if has.touches(fault)] for pk, has in taken.items()}


def rentals_on(site: Site, day: date) -> list[Rental]:
    """What is to arrive or to go back on that day and hasn't yet."""
    span = day_span(day, site.tz)
    rentals = Rental.objects.filter(session__room__site=site, returned_at__isnull=True)
    found = rentals.select_related("session__room__site", "session__job__client")
    return [
        rental
        for rental in found
        if (rental.arrived_at is None and rental.arrives_at in span) or rental.back_at in span
    ]


def sessions_of(site: Site) -> SessionQuerySet:
    found = Session.objects.standing().with_all().filter(room__site=site)
    return found.prefetch_related("rentals")
