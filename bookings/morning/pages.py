"""The two pages that a manager opens first: was last night finished, and what is open for tomorrow."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.contrib.contenttypes.models import ContentType

from bookings.models import Rental, Session
from bookings.models.sessions import SessionQuerySet
from bookings.morning.looks import Told, told_of
from bookings.needs import needs_of
from bookings.rentals.hiring import state as rental_state
from studio.clock import day_span, say_length, say_span
from studio.models import Claim, Fault, Site
from studio.spans import Span

NIGHT = timedelta(hours=36)
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


def last_night(site: Site, now: datetime) -> list[Finished]:
    """What ended within the last day and a half, last first. A constant number of queries."""
    ended = sessions_of(site).filter(end__gt=now - NIGHT, end__lte=now, status=Session.Status.CONFIRMED)
    sessions = [session for session in ended.order_by("-end") if session.is_work]
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
        Told("Faults", "; ".join(map(str, faults)) or "none reported", not faults),
        *_hired(session, now),
    ]


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
    faults = list(reported.select_related("unit", "channel__unit").order_by("reported_at"))
    used = units_of(sessions)
    return {
        session.pk: [
            fault
            for fault in faults
            if session.setup_at <= fault.reported_at
            and (fault.unit.resource_id in used[session.pk] or fault.unit.home_room_id == session.room_id)
        ]
        for session in sessions
    }


def units_of(sessions: Sequence[Session]) -> dict[int, set[int]]:
    """The resources that each session has taken as gear. One query."""
    kind = ContentType.objects.get_for_model(Session)
    claims = Claim.objects.filter(
        purpose=Claim.Purpose.GEAR, origin_type=kind, origin_id__in=[session.pk for session in sessions]
    )
    found: dict[int, set[int]] = {session.pk: set() for session in sessions}
    for pk, resource_id in claims.values_list("origin_id", "resource_id"):
        found[pk].add(resource_id)
    return found


def open_on(site: Site, day: date, now: datetime) -> list[Open]:
    """Sessions that touch the day on the site's clock, first come first, those that need nothing as well."""
    touching = sessions_of(site).touching(day_span(day, site.tz)).filter(end__gt=now)
    sessions = [session for session in touching.order_by("setup_at") if session.is_work]
    needs = needs_of(sessions, now)
    faults = faults_that_touch(sessions)
    return [Open(session, [*needs[session.pk], *faults.get(session.pk, [])]) for session in sessions]


def faults_that_touch(sessions: Sequence[Session]) -> Mapping[int, list[str]]:
    """Open faults of what a session has taken or finds in its room: “Oak channel 3: no phantom”."""
    used = units_of(sessions)
    faults = list(Fault.objects.open().select_related("unit", "channel__unit"))
    return {
        session.pk: [
            str(fault)
            for fault in faults
            if fault.unit.resource_id in used[session.pk] or fault.unit.home_room_id == session.room_id
        ]
        for session in sessions
    }


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
