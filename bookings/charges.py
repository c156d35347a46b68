"""Hours to money. Pure: rounded half up once a line; a total adds the printed lines."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from math import floor


def half_up(amount: Fraction) -> Decimal:
    """The amount to two places; half a cent goes away from zero (2.225 becomes 2.23)."""
    cents = floor(abs(amount) * 100 + Fraction(1, 2))
    return Decimal(cents if amount >= 0 else -cents).scaleb(-2)


def hours(length: timedelta) -> Fraction:
    """The exact length in hours."""
    return Fraction(length // timedelta(microseconds=1), 3_600_000_000)


def charge(hourly_rate: Decimal, length: timedelta) -> Decimal:
    """What this length costs at a rate an hour, in the rate's currency."""
    return half_up(Fraction(hourly_rate) * hours(length))


def part_of(amount: Decimal, percent: int) -> Decimal:
    """So many percent of an amount, in its currency."""
    return half_up(Fraction(amount) * percent / 100)


@dataclass(frozen=True, slots=True)
class Line:
    """One session of a bill. amount is None while the job has no rate."""

    words: str
    booked: timedelta
    worked: timedelta | None
    amount: Decimal | None


@dataclass(frozen=True, slots=True)
class Bill:
    lines: tuple[Line, ...]

    @property
    def booked(self) -> timedelta:
        return sum((line.booked for line in self.lines), timedelta())

    @property
    def worked(self) -> timedelta:
        """What has been entered so far; a session without times counts nothing."""
        return sum((line.worked for line in self.lines if line.worked), timedelta())

    @property
    def total(self) -> Decimal | None:
        """The sum of the printed lines, or None without a rate."""
        amounts = [line.amount for line in self.lines if line.amount is not None]
        return sum(amounts, Decimal("0.00")) if len(amounts) == len(self.lines) else None


def bill(hourly_rate: Decimal | None, sessions: Iterable[tuple[str, timedelta, timedelta | None]]) -> Bill:
    """Lines from (words, booked, worked); booked hours are charged, worked hours are shown beside them."""
    return Bill(
        tuple(
            Line(words, booked, worked, None if hourly_rate is None else charge(hourly_rate, booked))
            for words, booked, worked in sessions
        )
    )
