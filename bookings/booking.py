"""Book, change, cancel and hand over a session: one function and one transaction each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from bookings.falling import settle, tell_of
from bookings.history import note
from bookings.ladder import lock_ladder, new_pieces, wanted_pieces
from bookings.models import Crew, Session
from bookings.signals import session_changed
from bookings.standing import (
    asked_anew_words,
    booked_words,
    changed_fields,
    let_fall,
    new_fields,
    pass_holds,
)
from bookings.terms import owed_if_cancelled
from bookings.words import clash_sentences, difference
from studio.access import Act, require
from studio.claims import Wanted, clashes_with, release, take
from studio.models import Claim, Person, Role, Room
from studio.spans import Span

ROOM_PURPOSES = [Claim.Purpose.SETUP, Claim.Purpose.SESSION, Claim.Purpose.TURNAROUND, Claim.Purpose.CALL]


@dataclass(frozen=True, slots=True)
class Called:
    """A person wanted on a session. call_at None: assistants from setup, others from load-in."""

    person_id: int
    role: str
    call_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Draft:
    """A session as somebody would like it. Minutes of None: the room's own. hold_until of None: as usual."""

    job_id: int
    room: Room
    title: str
    load_in: datetime
    downbeat: datetime
    end: datetime
    crew: tuple[Called, ...] = ()
    setup_minutes: int | None = None
    turnaround_minutes: int | None = None
    instrument_list: str = ""
    note: str = ""
    status: str = Session.Status.CONFIRMED
    hold_until: date | None = None

    @property
    def setup_at(self) -> datetime:
        minutes = self.room.setup_minutes if self.setup_minutes is None else self.setup_minutes
        return self.load_in - timedelta(minutes=minutes)

    @property
    def clear_at(self) -> datetime:
        minutes = self.room.turnaround_minutes if self.turnaround_minutes is None else self.turnaround_minutes
        return self.end + timedelta(minutes=minutes)

    @property
    def whole(self) -> Span:
        return Span(self.setup_at, self.clear_at)

    @property
    def firm(self) -> bool:
        return self.status == Session.Status.CONFIRMED

    def call_of(self, called: Called) -> tuple[datetime, datetime]:
        """When this person works: assistants set up and break down, others stay from load-in to the end."""
        if called.role == Role.ASSISTANT:
            return called.call_at or self.setup_at, self.clear_at
        return called.call_at or self.load_in, self.end


class Stale(Exception):
    """Somebody changed or cancelled the session meanwhile; `session` is how it stands now."""

    def __init__(self, session: Session) -> None:
        super().__init__("the session has changed meanwhile")
        self.session = session


def wanted_claims(draft: Draft) -> list[Wanted]:
    """The room with its parts for setup, session and turnaround, and each person from call to end."""
    firm = draft.firm
    spans = [
        (Claim.Purpose.SETUP, draft.setup_at, draft.downbeat),
        (Claim.Purpose.SESSION, draft.downbeat, draft.end),
        (Claim.Purpose.TURNAROUND, draft.end, draft.clear_at),
    ]
    rooms = [
        Wanted(room.resource_id, Span(start, end), purpose, draft.title, firm=firm)
        for room in draft.room.with_parts()
        for purpose, start, end in spans
        if start < end
    ]
    resources = dict(
        Person.objects.filter(pk__in=[c.person_id for c in draft.crew]).values_list("pk", "resource_id")
    )
    people = [
        Wanted(resources[c.person_id], Span(*draft.call_of(c)), Claim.Purpose.CALL, draft.title, firm=firm)
        for c in draft.crew
    ]
    return rooms + people


def what_is_in_the_way(draft: Draft, session: Session | None = None) -> list[str]:
    """Sentences about everything that stops this draft; empty when it can be booked."""
    clashes = clashes_with(wanted_claims(draft), but_not=session)
    return clash_sentences(clashes, draft.room.site.tz)


def book(by: Person, draft: Draft, form_key: UUID | None = None, overrule: str = "") -> Session:
    """Book the draft, or hold it. The same form_key twice gives the session of the first press.

    Raises Conflict when something is taken, PastHolds when holds stand there and no reason to `overrule` them
    is given, and PermissionDenied.
    """
    require(by, Act.BOOK)
    if form_key and (first := Session.objects.filter(form_key=form_key).first()):
        return first
    try:
        with transaction.atomic():
            lock_ladder(draft.room.site_id)
            pieces = wanted_pieces(draft.room, draft.whole)
            if form_key and (first := Session.objects.filter(form_key=form_key).first()):
                return first
            passed = pass_holds(draft, pieces, overrule)
            session = Session.objects.create(
                form_key=form_key, made_at=timezone.now(), **_fields(draft), **new_fields(draft)
            )
            take(session, wanted_claims(draft))
            _call(session, draft)
            note(session, by, "booked", booked_words(session))
            fallen = let_fall(session, by, pieces, passed, overrule)
            tell_of(fallen)
            session_changed.send(Session, session=session, change="booked", moved=True)
    except IntegrityError:
        if form_key and (first := Session.objects.filter(form_key=form_key).first()):
            return first
        raise
    return session


def change(by: Person, session_id: int, version: int, draft: Draft, overrule: str = "") -> Session:
    """Make the session as the draft says; whether it is held or confirmed stays as it is.

    Raises Stale, Conflict, PastHolds (see book), PermissionDenied; then nothing has changed.
    """
    require(by, Act.BOOK)
    with transaction.atomic():
        session = locked(session_id, version, draft.room.site_id)
        if session.cancelled:
            raise Stale(session)
        draft, sites = replace(draft, status=session.status), {session.room.site, draft.room.site}
        pieces = new_pieces(session, draft.room, draft.whole)
        passed = pass_holds(draft, pieces, overrule, session)
        words = difference(session, draft)
        moved = _moved(session, draft)
        seen = moved or session.title != draft.title  # what a calendar shows
        for name, value in (_fields(draft) | changed_fields(session, draft, pieces)).items():
            setattr(session, name, value)
        session.version += 1
        session.sequence += seen
        session.save()
        take(session, wanted_claims(draft), instead=ROOM_PURPOSES)
        session.crew.all().delete()
        _call(session, draft)
        note(session, by, "changed", words + asked_anew_words(session, pieces))
        fallen = let_fall(session, by, pieces, passed, overrule)
        for site in sites if session.is_hold else ():
            settle(site, by)
        tell_of(fallen)
        session_changed.send(Session, session=session, change="changed", moved=moved)
    return session


def cancel(by: Person, session_id: int, version: int, because: str) -> Session:
    """Cancel and free everything; the session stays in history and, as cancelled, in the calendars."""
    require(by, Act.BOOK)
    with transaction.atomic():
        session = locked(session_id, version)
        if session.cancelled:
            return session
        owed = owed_if_cancelled(session, timezone.now())
        words = [f"Cancelled: {because}" if because else "Cancelled."]
        words += [f"By the terms it was confirmed under, {owed.words}"] if owed else []
        session.status = Session.Status.CANCELLED
        session.cancelled_at = session.changed_at = timezone.now()
        session.cancelled_because = because
        session.version += 1
        session.sequence += 1
        session.save()
        release(session)
        note(session, by, "cancelled", "\n".join(words))
        settle(session.room.site, by)
        session_changed.send(Session, session=session, change="cancelled", moved=True)
    return session


def hand_over(
    by: Person, session_id: int, worked_from: datetime, worked_to: datetime, words: str = ""
) -> Session:
    """Enter the times in and out and what the next person must know."""
    require(by, Act.HAND_OVER)
    with transaction.atomic():
        session = Session.objects.select_for_update(of=("self",)).get(pk=session_id)
        session.worked_from, session.worked_to, session.handover = worked_from, worked_to, words
        session.changed_at = timezone.now()
        session.save(update_fields=["worked_from", "worked_to", "handover", "changed_at"])
        note(session, by, "handed over", words or "Times entered.")
    return session


def locked(session_id: int, version: int, *more_sites: int) -> Session:
    """With the ladder of its site, and of those it may move to. Raises Stale.

    Locked by itself, then fetched: PostgreSQL loses a row locked in a join while its room changes.
    """
    lock_ladder(Session.objects.values_list("room__site_id", flat=True).get(pk=session_id), *more_sites)
    Session.objects.select_for_update().get(pk=session_id)
    session = Session.objects.with_all().get(pk=session_id)
    if session.version != version:
        raise Stale(session)
    return session


def _fields(draft: Draft) -> dict[str, object]:
    return {
        "job_id": draft.job_id,
        "room": draft.room,
        "title": draft.title,
        "status": draft.status,
        "setup_at": draft.setup_at,
        "load_in": draft.load_in,
        "downbeat": draft.downbeat,
        "end": draft.end,
        "clear_at": draft.clear_at,
        "instrument_list": draft.instrument_list,
        "note": draft.note,
        "changed_at": timezone.now(),
    }


def _call(session: Session, draft: Draft) -> None:
    for called in draft.crew:
        call_at, until = draft.call_of(called)
        Crew.objects.create(
            session=session, person_id=called.person_id, role=called.role, call_at=call_at, until=until
        )


def _moved(session: Session, draft: Draft) -> bool:
    """Whether calendars and people must notice: other room, times, status or crew."""
    before = (
        session.room_id,
        session.setup_at,
        session.load_in,
        session.downbeat,
        session.end,
        session.clear_at,
    )
    after = (draft.room.pk, draft.setup_at, draft.load_in, draft.downbeat, draft.end, draft.clear_at)
    crew_before = {(c.person_id, c.role, c.call_at) for c in session.crew.all()}
    crew_after = {(c.person_id, c.role, draft.call_of(c)[0]) for c in draft.crew}
    return before != after or crew_before != crew_after or session.status != draft.status
