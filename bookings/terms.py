"""The terms of the day on which a session was confirmed, and what they give when it is cancelled."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from bookings.charges import charge, part_of
from bookings.models import Session
from studio.clock import say_length
from studio.models import Site
from studio.terms import percent_at, read_steps, say_steps


@dataclass(frozen=True, slots=True)
class Terms:
    """Frozen: a later change of the site's terms doesn't touch them."""

    steps: list[tuple[int, int]]
    deposit_percent: int
    notice: str

    @property
    def words(self) -> str:
        """One sentence each: cancelling, notice, deposit."""
        said = [f"Cancelling: {say_steps(self.steps)}."]
        said += [f"Notice must come {self.notice}."] if self.notice else []
        said += [f"Deposit: {self.deposit_percent} %."] if self.deposit_percent else ["No deposit."]
        return " ".join(said)


@dataclass(frozen=True, slots=True)
class Owed:
    """amount is None while the job has no rate; notice is negative once the time has begun."""

    percent: int
    notice: timedelta
    price: Decimal | None
    amount: Decimal | None
    currency: str

    @property
    def words(self) -> str:
        """Like “19 h before load-in: 50 % of 810.00 EUR is owed, 405.00 EUR.”"""
        when = "after load-in" if self.notice <= timedelta() else f"{say_length(self.notice)} before load-in"
        if self.percent == 0:
            return f"{when}: nothing is owed."
        if self.amount is None:
            return f"{when}: {self.percent} % of the price is owed; the job has no rate yet."
        price, amount = f"{self.price} {self.currency}", f"{self.amount} {self.currency}"
        return f"{when}: {self.percent} % of {price} is owed, {amount}."


def terms_of(site: Site) -> dict[str, Any]:
    """As they stand today, for keeping with a session."""
    return {
        "steps": read_steps(site.cancel_steps),
        "deposit_percent": site.deposit_percent,
        "notice": site.notice,
    }


def said_terms(site: Site) -> str:
    """Today's terms in sentences."""
    return _read(terms_of(site)).words


def frozen_terms(session: Session) -> Terms | None:
    """Those that it was confirmed under; None for a hold and for what was booked before terms were kept."""
    return _read(session.terms) if session.terms else None


def _read(kept: dict[str, Any]) -> Terms:
    steps = [(hours, percent) for hours, percent in kept["steps"]]
    return Terms(steps, kept["deposit_percent"], kept["notice"])


def owed_if_cancelled(session: Session, now: datetime, by_whom: str = "") -> Owed | None:
    """Booked hours at the job's rate, by the step that the notice before load-in falls in.

    Nothing is owed for what the house itself cancels.
    """
    terms = frozen_terms(session)
    if terms is None or session.status == Session.Status.HELD:
        return None
    notice = session.load_in - now
    by_house = by_whom == Session.CancelledBy.HOUSE
    percent = 0 if by_house else percent_at(terms.steps, notice)
    rate = session.job.hourly_rate
    price = None if rate is None else charge(rate, session.booked)
    amount = None if price is None else part_of(price, percent)
    return Owed(percent, notice, price, amount, session.job.currency)
