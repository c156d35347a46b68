"""Book, change, cancel and hand over a session: one function and one transaction each."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from bookings.clashes import clashes_of, require_rooms_of_their_own
from bookings.crew import call, forget_answers
from bookings.drafts import ROOM_PURPOSES, Called, Draft, as_draft, wanted_claims
from bookings.falling import settle, tell_of
from bookings.history import note
from bookings.ladder import lock_ladder, new_pieces, wanted_pieces
from bookings.models import Session
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
from bookings.wishes import keep_gear
from bookings.words import clash_sentences, difference
from studio.access import Act, require
from studio.claims import release, take
from studio.models import Person

__all__ = [
    "Called",
    "Draft",
    "Stale",
    "apply_change",
    "book",
    "cancel",
    "change",
    "hand_over",
    "locked",
    "what_is_in_the_way",
]


class Stale(Exception):
    """Somebody changed or cancelled the session meanwhile; `session` is how it stands now."""

    def __init__(self, session: Session) -> None:
        super().__init__("the session has changed meanwhile")
        self.session = session


class Worked(Exception):
    """It has been worked and handed over: it can't be cancelled any more."""


def what_is_in_the_way(draft: Draft, session: Session | None = None) -> list[str]:
    """Sentences about everything that stops this draft; empty when it can be booked."""
    return clash_sentences(clashes_of(draft, session), draft.room.site.tz)


def book(
    by: Person, draft: Draft, form_key: UUID | None = None, overrule: str = "", told_as: str = "booked"
) -> Session:
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
            require_rooms_of_their_own(draft)
            pieces = wanted_pieces(draft)
            if form_key and (first := Session.objects.filter(form_key=form_key).first()):
                return first
            passed = pass_holds(draft, pieces, overrule)
            session = Session.objects.create(
                form_key=form_key, made_at=timezone.now(), **_fields(draft), **new_fields(draft)
            )
            take(session, wanted_claims(draft))
            keep_gear(session, draft)
            _join(session, draft)
            note(session, by, "booked", booked_words(session))
            fallen = let_fall(session, by, pieces, passed, overrule)
            tell_of(fallen)
            session_changed.send(Session, session=session, change=told_as, moved=True)
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
    return apply_change(by, session_id, version, draft, overrule)


def apply_change(
    by: Person, session_id: int, version: int, draft: Draft, overrule: str = "", told_as: str = "changed"
) -> Session:
    """As change does, for a use case that has asked for its own permission.

    told_as: the `change` that session_changed names.
    """
    with transaction.atomic():
        session = locked(session_id, version, draft.room.site_id)
        if session.cancelled:
            raise Stale(session)
        draft, sites = as_part_of(session, draft), {session.room.site, draft.room.site}
        require_rooms_of_their_own(draft, session)
        pieces = new_pieces(session, draft)
        passed = pass_holds(draft, pieces, overrule, session)
        words = difference(session, draft)
        moved = _moved(session, draft)
        elsewhere = when_and_where(as_draft(session))[1] != when_and_where(draft)[1]
        seen = moved or session.title != draft.title  # what a calendar shows
        for name, value in (_fields(draft) | changed_fields(session, draft, pieces)).items():
            setattr(session, name, value)
        session.version += 1
        session.sequence += seen
        session.save()
        take(session, wanted_claims(draft), instead=ROOM_PURPOSES)
        keep_gear(session, draft)
        _join(session, draft, elsewhere)
        note(session, by, "changed", words + asked_anew_words(session, pieces))
        fallen = let_fall(session, by, pieces, passed, overrule)
        for site in sites if session.is_hold else ():
            settle(site, by)
        tell_of(fallen)
        session_changed.send(Session, session=session, change=told_as, moved=moved)
    return session


def as_part_of(session: Session, draft: Draft) -> Draft:
    """Whether it is held or confirmed, and which series it belongs to, isn't changed by a form."""
    return replace(draft, status=session.status, series_id=session.series_id, occurrence=session.occurrence)


def cancel(by: Person, session_id: int, version: int, because: str, by_whom: str = "") -> Session:
    """Cancel and free everything; the session stays in history and, as cancelled, in the calendars.

    by_whom is a Session.CancelledBy: what the house itself cancels costs the client nothing. Raises Stale, and
    Worked once there are times in and out: its hours and who was in the building are history.
    """
    require(by, Act.BOOK)
    with transaction.atomic():
        session = locked(session_id, version)
        if session.cancelled:
            return session
        if session.worked:
            raise Worked
        owed = owed_if_cancelled(session, timezone.now(), by_whom)
        who = f" by {Session.CancelledBy(by_whom).label}" if by_whom else ""
        words = [f"Cancelled{who}: {because}" if because else f"Cancelled{who}."]
        words += [f"By the terms it was confirmed under, {owed.words}"] if owed else []
        session.status = Session.Status.CANCELLED
        session.cancelled_at = session.changed_at = timezone.now()
        session.cancelled_because, session.cancelled_by = because, by_whom
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
        session.save(update_fields=["worked_from", "worked_to", "handover"])
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
    day_from, day_to = draft.day_hours or (None, None)
    return {
        "job_id": draft.job_id,
        "room": draft.room,
        "kind": draft.kind,
        "title": draft.title,
        "status": draft.status,
        "setup_at": draft.setup_at,
        "load_in": draft.load_in,
        "downbeat": draft.downbeat,
        "end": draft.end,
        "spare_until": draft.spare_until,
        "clear_at": draft.clear_at,
        "day_from": day_from,
        "day_to": day_to,
        "series_id": draft.series_id,
        "occurrence": draft.occurrence,
        "instrument_list": draft.instrument_list,
        "note": draft.note,
        "changed_at": timezone.now(),
    }


def _join(session: Session, draft: Draft, elsewhere: bool = False) -> None:
    """What the draft wants beside the room itself: other rooms, gear, people."""
    session.beside.set(draft.beside)
    session.wanted_units.set(draft.wanted_units)
    call(session, draft)
    if elsewhere:
        forget_answers(session)
    if fetched_before := getattr(session, "_prefetched_objects_cache", None):
        session.refresh_from_db(fields=list(fetched_before))


def _moved(session: Session, draft: Draft) -> bool:
    """Whether calendars and people must notice: other rooms, times, status or crew."""
    return session.status != draft.status or when_and_where(as_draft(session)) != when_and_where(draft)


def when_and_where(draft: Draft) -> tuple[object, ...]:
    times = (draft.setup_at, draft.load_in, draft.downbeat, draft.end, draft.last, draft.clear_at)
    rooms = (draft.room.pk, frozenset(room.pk for room in draft.beside))
    crew = {(called.person_id, called.role, called.assigned, *draft.call_of(called)) for called in draft.crew}
    return times, rooms, draft.day_hours, crew
