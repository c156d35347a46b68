"""Hours to money. The check values are field case F66; where another source is meant, it is named."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.charges import bill, charge, half_up


@pytest.mark.parametrize(
    ("exact", "rounded"), [("1.005", "1.01"), ("2.675", "2.68"), ("2.225", "2.23"), ("0.335", "0.34")]
)
def test_half_a_cent_goes_up(exact: str, rounded: str) -> None:
    """Arithmetic: round half up, where half-even or binary floats would give 1.00, 2.67 or 2.22."""
    assert half_up(Fraction(exact)) == Decimal(rounded)


def test_seven_minutes_at_ninety_an_hour_are_ten_fifty() -> None:
    """Arithmetic: 7 / 60 × 90.00 = 10.50."""
    assert charge(Decimal("90.00"), timedelta(minutes=7)) == Decimal("10.50")


def test_the_total_adds_the_printed_lines() -> None:
    """Arithmetic: three lines of 0.335 are 1.02 when each line is rounded, 1.01 when only the sum is."""
    lines = [("third", timedelta(hours=1), None)] * 3
    found = bill(Decimal("0.335"), lines)
    assert [line.amount for line in found.lines] == [Decimal("0.34")] * 3
    assert found.total == Decimal("1.02")


def test_without_a_rate_there_are_hours_and_no_money() -> None:
    found = bill(None, [("a", timedelta(hours=2), timedelta(hours=3)), ("b", timedelta(hours=1), None)])
    assert (found.booked, found.worked, found.total) == (timedelta(hours=3), timedelta(hours=3), None)


def test_an_empty_bill_is_nought() -> None:
    assert bill(Decimal("90"), []).total == Decimal("0.00")


@given(
    st.decimals(min_value=0, max_value=10_000, places=2),
    st.timedeltas(min_value=timedelta(), max_value=timedelta(days=30)),
)
def test_a_charge_is_never_further_than_half_a_cent_from_the_exact_amount(
    rate: Decimal, length: timedelta
) -> None:
    exact = Fraction(rate) * (length // timedelta(microseconds=1)) / 3_600_000_000
    found = charge(rate, length)
    assert found.as_tuple().exponent == -2
    assert -Fraction(1, 200) <= exact - Fraction(found) < Fraction(1, 200)
