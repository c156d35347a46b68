"""Held or confirmed: what a session gets with it, and what stands in the way of being confirmed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from bookings.deadlines import end_of_day
from bookings.drafts import Draft
from bookings.falling import fall_under, office_of, settle
from bookings.history import note
from bookings.ladder import PastHolds, Piece, standing_on
from bookings.models import Session
from bookings.terms import terms_of
from studio.clock import say
from studio.models import Person


def new_fields(draft: Draft) -> dict[str, Any]:
    """A new hold is last in line from now on; a confirmed session has today's terms."""
    now = timezone.now()
    if draft.firm:
        return {"confirmed_at": now, "terms": terms_of(draft.room.site)}
    return {"held_at": now, "lapses_at": lapse(draft, now)}


def changed_fields(session: Session, draft: Draft, new: Sequence[Piece]) -> dict[str, Any]:
    """Of a hold: a hold that wants another room or other hours asks anew for them, and so is last in line."""
    if session.status != Session.Status.HELD:
        return {}
    now = timezone.now()
    anew = {"held_at": now, "challenged_at": None, "answer_by": None} if new else {}
    if draft.hold_until is None and session.lapses_at:
        return anew | {"lapses_at": min(session.lapses_at, draft.load_in)}
    return anew | {"lapses_at": lapse(draft, now)}


def lapse(draft: Draft, now: datetime) -> datetime:
    """At the office's closing hour of the day agreed, by default the site's own days from now; at the latest
    when the session would load in."""
    site = draft.room.site
    day = draft.hold_until or now.astimezone(site.tz).date() + timedelta(days=site.hold_days)
    return min(end_of_day(day, office_of(site)), draft.load_in)


def pass_holds(
    draft: Draft, pieces: Sequence[Piece], overrule: str, session: Session | None = None
) -> list[Session]:
    """The holds that a confirmed session would pass on these pieces. Raises PastHolds without a reason."""
    if not draft.firm:
        return []
    passed = standing_on(pieces, timezone.now(), session)
    if passed and not overrule.strip():
        raise PastHolds(passed)
    return passed


def let_fall(
    session: Session, by: Person, pieces: Sequence[Piece], passed: Sequence[Session], overrule: str
) -> list[Session]:
    """Write down whom it overruled, and let each hold fall that it covers wholly or partly; for `tell_of`."""
    if session.status != Session.Status.CONFIRMED:
        return []
    if passed:
        names = ", ".join(f"“{hold.title}”" for hold in passed)
        note(session, by, "overruled", f"Confirmed past {names}, because: {overrule.strip()}")
    fallen = fall_under(session, by, pieces)
    if fallen:
        settle(session.room.site, by)
    return fallen


def booked_words(session: Session) -> str:
    if session.status != Session.Status.HELD or session.lapses_at is None:
        return "Booked."
    return f"Held until {say(session.lapses_at, session.room.site.tz)}."


def asked_anew_words(session: Session, new: Sequence[Piece]) -> str:
    if session.status != Session.Status.HELD or not new:
        return ""
    return "\nThe hold asks anew for other hours or another room: its place in line counts from now."
