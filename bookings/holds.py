"""The life of a hold: challenged, confirmed, released, lapsed. One function and one transaction each.

Placing one is booking with the status held (bookings.booking.book); moving and cancelling are those of any
session. Keeping a challenged hold means confirming it.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from bookings.booking import Stale, locked
from bookings.clashes import clashes_of
from bookings.deadlines import undecided_from
from bookings.drafts import ROOM_PURPOSES, as_draft, wanted_claims
from bookings.falling import let_go, settle, tell_of
from bookings.history import note
from bookings.ladder import PastHolds, holds_above, lock_ladder, pieces_of, stands, stands_until
from bookings.letters.rows import write_decide
from bookings.models import Session
from bookings.signals import session_changed
from bookings.standing import let_fall
from bookings.terms import Terms, frozen_terms, terms_of
from bookings.wishes import keep_gear
from studio.access import Act, require
from studio.claims import Clash, take
from studio.clock import say
from studio.models import Person

log = logging.getLogger(__name__)

HELD, CONFIRMED = Session.Status.HELD, Session.Status.CONFIRMED
AHEAD = timedelta(days=3)  # wider than any zone makes of tomorrow


class NotNow(Exception):
    """The step makes no sense as the ladder stands; the message is a sentence that says why."""


def challenge(by: Person, hold_id: int) -> Session:
    """Ask the holds above, in order, to confirm or let go. Twice is once. Raises NotNow, PermissionDenied."""
    require(by, Act.BOOK)
    with transaction.atomic():
        hold = _locked_hold(hold_id)
        if hold.challenged_at:
            return hold
        now = timezone.now()
        above = holds_above(hold, now)
        if not above:
            raise NotNow("No hold stands above this one: it can be confirmed without a challenge.")
        hold.challenged_at = now
        hold.save(update_fields=["challenged_at"])
        names = ", ".join(f"“{each.title}”" for each in above)
        note(hold, by, "challenges", f"Challenges {names}, asked in this order.")
        settle(hold.room.site, by)
    return hold


def confirm(by: Person, hold_id: int, version: int, overrule: str = "") -> Session:
    """Make the hold a booking: its claims become firm, today's terms stand, the holds that it covers fall.

    Raises Stale, NotNow, PastHolds (holds stand above and no reason to overrule them is given), Conflict,
    PermissionDenied; then nothing has changed.
    """
    require(by, Act.BOOK)
    with transaction.atomic():
        session = locked(hold_id, version)
        if session.status == CONFIRMED:
            return session
        now = timezone.now()
        _require_standing(session, now)
        above = holds_above(session, now)
        if above and not overrule.strip():
            raise PastHolds(above)
        _make_firm(session, now)
        note(session, by, "confirmed", _confirmed_words(frozen_terms(session)))
        fallen = let_fall(session, by, pieces_of(session), above, overrule)
        settle(session.room.site, by)
        tell_of(fallen)
        session_changed.send(Session, session=session, change="changed", moved=True)
    return session


def release(by: Person, hold_id: int, because: str = "") -> Session:
    """Give the held time back; those below move up. Twice is once. Raises NotNow, PermissionDenied."""
    require(by, Act.BOOK)
    with transaction.atomic():
        hold = _locked_hold(hold_id, may_be_gone=True)
        if hold.cancelled:
            return hold
        let_go(hold, by, "released", f"The hold was released{f': {because}' if because else '.'}")
        settle(hold.room.site, by)
        tell_of([hold])
    return hold


def lapse_holds() -> int:
    """Let every hold fall whose time is over, and go on with its challengers. Gives how many fell.

    One that can't, through a mistake of ours, is in the log and stops no other; the next tick tries again.
    """
    fell = 0
    over = Session.objects.fallen(timezone.now()).order_by("lapses_at", "pk")
    for pk in list(over.values_list("pk", flat=True)):
        try:
            fell += lapse(pk)
        except Exception:
            log.exception("Hold %s could not fall; it is tried again.", pk)
    return fell


def lapse(hold_id: int) -> bool:
    """This hold falls if its time is over. Says whether it did; late and doubled do no harm."""
    with transaction.atomic():
        lock_ladder(Session.objects.values_list("room__site_id", flat=True).get(pk=hold_id))
        hold = Session.objects.fallen(timezone.now()).with_all().filter(pk=hold_id).first()
        if hold is None:
            return False
        let_go(hold, None, "fell", _fell_words(hold))
        settle(hold.room.site, None)
        tell_of([hold])
    return True


def ask_about_tomorrow() -> int:
    """At the hour that each house sets, a letter to its managers about each hold for tomorrow, once a hold.

    Gives how many holds are undecided; doubled does no harm.
    """
    now = timezone.now()
    undecided = [hold for hold in _holds_ahead(now) if is_undecided(hold, now)]
    for hold in undecided:
        write_decide(hold, now)
    return len(undecided)


def is_undecided(hold: Session, now: datetime) -> bool:
    """Whether a standing hold needs its yes or no: from the hour before the day of its load-in."""
    site = hold.room.site
    return stands(hold, now) and now >= undecided_from(hold.load_in, site.decide_hour, site.tz)


def _holds_ahead(now: datetime) -> Iterator[Session]:
    yield from Session.objects.holds(now).filter(load_in__gt=now, load_in__lt=now + AHEAD).with_all()


def _locked_hold(hold_id: int, may_be_gone: bool = False) -> Session:
    """The hold with the ladder of its site. Raises NotNow for what is no hold any more."""
    lock_ladder(Session.objects.values_list("room__site_id", flat=True).get(pk=hold_id))
    Session.objects.select_for_update().get(pk=hold_id)
    hold = Session.objects.with_all().get(pk=hold_id)
    if hold.status == CONFIRMED:
        raise NotNow("This session is confirmed: it is no hold any more.")
    if not may_be_gone:
        _require_standing(hold, timezone.now())
    return hold


def _require_standing(hold: Session, now: datetime) -> None:
    if hold.cancelled:
        raise Stale(hold)
    if not stands(hold, now):
        raise NotNow(f"{_fell_words(hold)} Book the time anew if it is still wanted.")


def _make_firm(session: Session, now: datetime) -> None:
    """Status, terms and claims. Raises Conflict."""
    session.status = CONFIRMED
    session.confirmed_at = session.changed_at = now
    session.terms = terms_of(session.room.site)
    session.challenged_at = session.answer_by = None
    session.version += 1
    session.sequence += 1
    session.save()
    take(session, wanted_claims(as_draft(session)), instead=ROOM_PURPOSES)
    keep_gear(session, as_draft(session))


def clashes_if_confirmed(hold: Session) -> list[Clash]:
    """What is in the way of confirming it."""
    return clashes_of(replace(as_draft(hold), status=CONFIRMED), hold)


def _confirmed_words(terms: Terms | None) -> str:
    return "Confirmed." + (f" Its terms from now on. {terms.words}" if terms else "")


def _fell_words(hold: Session) -> str:
    """Why it fell, by the earlier of its two times."""
    until, tz = stands_until(hold), hold.room.site.tz
    when = say(until, tz) if until else "its time"
    if hold.answer_by and until == hold.answer_by:
        return f"The hold fell: no answer to the challenge came by {when}."
    return f"The hold lapsed: it stood until {when}."
