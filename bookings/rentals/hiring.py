"""Hiring in what is wanted and not owned: entered, ordered, arrived, given back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from bookings.history import note
from bookings.models import Rental, Session
from bookings.needs import Needs, also
from bookings.rentals.units import drop_unit, keep_out, push_out
from studio.access import Act, require
from studio.clock import say
from studio.models import Person

STEPS = {
    "ordered": ("ordered_at", "is ordered"),
    "arrived": ("arrived_at", "has arrived"),
    "returned": ("returned_at", "is back with its owner"),
}


def hire_in(
    by: Person,
    session: Session,
    what: str,
    supplier: str,
    cost: Decimal | None,
    arrives_at: datetime,
    back_at: datetime,
) -> Rental:
    """A line for what is hired in; the cost is in the job's currency."""
    require(by, Act.BOOK)
    with transaction.atomic():
        rental = Rental.objects.create(
            session=session,
            what=what,
            supplier=supplier,
            cost=cost,
            currency=session.job.currency,
            arrives_at=arrives_at,
            back_at=back_at,
        )
        note(session, by, "rental", f"To be hired in: {said(rental)}")
    return rental


def change(
    by: Person,
    rental: Rental,
    what: str,
    supplier: str,
    cost: Decimal | None,
    arrives_at: datetime,
    back_at: datetime,
) -> Rental:
    """Something else was agreed. What relied on its unit while it isn't here any more is planned anew and told."""
    require(by, Act.BOOK)
    with transaction.atomic():
        rental = (
            Rental.objects.select_for_update(of=("self",))
            .select_related("session__room__site", "unit__site")
            .get(pk=rental.pk)
        )
        before = said(rental)
        rental.what, rental.supplier, rental.cost = what, supplier, cost
        rental.arrives_at, rental.back_at = arrives_at, back_at
        rental.save(update_fields=["what", "supplier", "cost", "arrives_at", "back_at"])
        if said(rental) != before:
            note(rental.session, by, "rental", f"Hired in otherwise: {said(rental)}, not {before}.")
            push_out(by, rental)
    return rental


def step(by: Person, rental: Rental, name: str, done: bool = True) -> Rental:
    """Ordered, arrived or returned, or not after all. The first press stands."""
    require(by, Act.BOOK if name == "ordered" else Act.HAND_OVER)
    field, words = STEPS[name]
    with transaction.atomic():
        rental = (
            Rental.objects.select_for_update(of=("self",))
            .select_related("session", "unit__site")
            .get(pk=rental.pk)
        )
        if (getattr(rental, field) is not None) == done:
            return rental
        setattr(rental, field, timezone.now() if done else None)
        rental.save(update_fields=[field])
        keep_out(by, rental)
        told = f"{rental.what} {words}." if done else f"Not so after all: {rental.what} {words}."
        note(rental.session, by, "rental", told)
    return rental


def call_off(by: Person, rental: Rental) -> None:
    """It isn't hired in after all; the session's history keeps that it was meant to be."""
    require(by, Act.BOOK)
    with transaction.atomic():
        note(rental.session, by, "rental", f"Not hired in after all: {rental.what}.")
        drop_unit(rental)
        rental.delete()


def said(rental: Rental) -> str:
    """Like “bass drum from Larch Hire, 40.00 EUR, arrives Thu 4 March, 08:00”."""
    tz = rental.session.room.site.tz
    words = [f"{rental.what} from {rental.supplier}" if rental.supplier else rental.what]
    words += [f"{rental.cost:.2f} {rental.currency}"] if rental.cost is not None else []
    words += [f"arrives {say(rental.arrives_at, tz)}", f"goes back {say(rental.back_at, tz)}"]
    return ", ".join(words)


def state(rental: Rental, now: datetime) -> str:
    """Where it stands, in words."""
    if rental.returned_at:
        return "given back"
    if rental.arrived_at:
        return "here, overdue to go back" if rental.back_at <= now else "here"
    if rental.ordered_at:
        return "ordered, overdue" if rental.arrives_at <= now else "ordered"
    return "not ordered yet"


@also
def rentals_open(sessions: Sequence[Session]) -> Needs:
    """What isn't ordered, isn't here though it should be, or should have gone back."""
    now = timezone.now()
    found: dict[int, list[str]] = {}
    of = {session.pk: session for session in sessions}
    for rental in Rental.objects.filter(session__in=list(of), returned_at__isnull=True):
        words = state(rental, now)
        short = _too_short(rental, of[rental.session_id])
        words = ", ".join([words] * (words not in ("here", "ordered")) + [short] * bool(short))
        if words:
            found.setdefault(rental.session_id, []).append(f"{rental.what}: {words}")
    return found


def _too_short(rental: Rental, session: Session) -> str:
    """A session that was moved may want it when it isn't here."""
    if rental.arrives_at > session.downbeat:
        return "arrives after the downbeat"
    return "goes back before the end" if rental.back_at < session.end else ""
