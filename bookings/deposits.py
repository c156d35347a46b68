"""Deposits: what the frozen terms ask for before a session, and whether it is in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from bookings.charges import charge, part_of
from bookings.history import note
from bookings.models import Session
from bookings.needs import Needs, also
from bookings.terms import frozen_terms
from studio.access import Act, require
from studio.models import Person


@dataclass(frozen=True, slots=True)
class Deposit:
    """In the job's currency."""

    amount: Decimal
    currency: str

    def __str__(self) -> str:
        return f"{self.amount} {self.currency}"


def deposit_of(session: Session) -> Deposit | None:
    """What is asked for by the terms it was confirmed under; None without terms, rate or deposit."""
    terms, rate = frozen_terms(session), session.job.hourly_rate
    if terms is None or rate is None or not terms.deposit_percent or session.is_hold:
        return None
    return Deposit(part_of(charge(rate, session.booked), terms.deposit_percent), session.job.currency)


def set_deposit(by: Person, session_id: int, is_in: bool) -> Session:
    """Say that the deposit has come in, or that it hasn't after all. Twice is once."""
    require(by, Act.SEE_JOBS)
    with transaction.atomic():
        session = Session.objects.select_for_update(of=("self",)).get(pk=session_id)
        if (session.deposit_in_at is not None) == is_in:
            return session
        session.deposit_in_at = timezone.now() if is_in else None
        session.save(update_fields=["deposit_in_at"])
        note(session, by, "deposit", "The deposit is in." if is_in else "The deposit isn't in after all.")
    return session


@also
def deposits_missing(sessions: Sequence[Session]) -> Needs:
    now = timezone.now()
    ahead = [s for s in sessions if s.end > now and s.deposit_in_at is None]
    return {s.pk: [f"deposit of {due} not in"] for s in ahead if (due := deposit_of(s))}
