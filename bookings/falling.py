"""Holds that fall, and who is asked next. Everything here runs inside a transaction that holds the ladder."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.utils import timezone

from bookings.deadlines import Office, answer_by
from bookings.history import note
from bookings.ladder import Piece, holds_above, holds_on, stands
from bookings.letters.rows import write_asked, write_first
from bookings.models import Session
from bookings.models.sessions import SessionQuerySet
from bookings.signals import session_changed
from studio.claims import release
from studio.clock import say
from studio.models import Person, Site


def office_of(site: Site) -> Office:
    return Office(site.opens, site.closes, frozenset(int(day) for day in site.office_days), site.tz)


def let_go(hold: Session, by: Person | None, what: str, because: str) -> None:
    """The hold stands no more; it stays in history and shows as cancelled. `tell_of` comes afterwards."""
    now = timezone.now()
    hold.status = Session.Status.CANCELLED
    hold.cancelled_at = hold.changed_at = now
    hold.cancelled_because = because[:200]
    hold.challenged_at = hold.answer_by = None
    hold.version += 1
    hold.sequence += 1
    hold.save(
        update_fields=[
            "status",
            "cancelled_at",
            "changed_at",
            "cancelled_because",
            "challenged_at",
            "answer_by",
            "version",
            "sequence",
        ]
    )
    release(hold)
    note(hold, by, what, because)


def fall_under(confirmed: Session, by: Person, pieces: Sequence[Piece]) -> list[Session]:
    """Every hold on these pieces of the confirmed session falls. Gives them, for `tell_of`."""
    fallen = holds_on(pieces, confirmed)
    for hold in fallen:
        let_go(hold, by, "fell", f"The hold fell: “{confirmed.title}” was confirmed for this time.")
    return fallen


def tell_of(fallen: Iterable[Session]) -> None:
    """Last of all, since the layers to the right take locks of their own."""
    for hold in fallen:
        session_changed.send(Session, session=hold, change="cancelled", moved=True)


def settle(site: Site, by: Person | None) -> None:
    """Bring the challenges of a site in order: who stands first by now, who is asked, who no longer is.

    Of the holds above a challenger the first is asked, and when it has fallen the one that then comes first.
    May be repeated.
    """
    now = timezone.now()
    asked: set[int] = set()
    for challenger in _holds_at(site).filter(challenged_at__isnull=False).order_by("challenged_at", "pk"):
        if stands(challenger, now):
            asked |= _go_on(challenger, site, by, now)
    for hold in _holds_at(site).filter(answer_by__gt=now).exclude(pk__in=asked):
        hold.answer_by = None
        hold.save(update_fields=["answer_by"])
        note(hold, by, "not challenged", "No answer is needed any more: nobody challenges this hold now.")


def _holds_at(site: Site) -> SessionQuerySet:
    return Session.objects.filter(status=Session.Status.HELD, room__site=site).with_all()


def _go_on(challenger: Session, site: Site, by: Person | None, now: datetime) -> set[int]:
    """Gives the hold that has to answer this challenger now, if there is one."""
    above = holds_above(challenger, now)
    if not above:
        challenger.challenged_at = None
        challenger.save(update_fields=["challenged_at"])
        note(challenger, by, "first", "Stands first now: it can be confirmed.")
        write_first(challenger, now)
        return set()
    if above[0].answer_by is None:
        _ask(above[0], challenger, site, by, now)
    return {above[0].pk}


def _ask(hold: Session, challenger: Session, site: Site, by: Person | None, now: datetime) -> None:
    deadline = min(answer_by(now, site.answer_hours, office_of(site)), hold.lapses_at or hold.load_in)
    hold.answer_by = deadline
    hold.save(update_fields=["answer_by"])
    until = say(deadline, site.tz)
    note(hold, by, "asked", f"Challenged by “{challenger.title}”: answer by {until}, else the hold falls.")
    write_asked(hold, now, deadline)
