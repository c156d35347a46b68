"""Office hours, answers and expiry. Check values: arithmetic on a calendar, by hand; common practice."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.deadlines import Office, answer_by, end_of_day, undecided_from
from tests.house import BERLIN, at

WEEK = Office(time(10), time(18), frozenset({1, 2, 3, 4, 5}), BERLIN)
NIGHTS = Office(time(1), time(5), frozenset(range(1, 8)), BERLIN)


@pytest.mark.parametrize(
    ("asked", "hours", "deadline"),
    [
        ("2027-03-03 11:00", 24, "2027-03-04 11:00"),  # Wednesday to Thursday
        ("2027-03-05 17:00", 24, "2027-03-08 17:00"),  # Friday to Monday
        ("2027-03-05 17:00", 48, "2027-03-09 17:00"),
        ("2027-03-05 17:00", 4, "2027-03-08 13:00"),  # one hour on Friday, three on Monday
        ("2027-03-05 17:00", 28, "2027-03-09 13:00"),
        ("2027-03-05 18:00", 24, "2027-03-09 10:00"),  # closed: asked as it were on Monday at ten
        ("2027-03-06 12:00", 2, "2027-03-08 12:00"),  # Saturday
        ("2027-03-04 03:00", 24, "2027-03-05 10:00"),
        ("2027-03-04 10:00", 8, "2027-03-04 18:00"),  # just the office's day
        ("2027-03-04 10:00", 9, "2027-03-05 11:00"),
    ],
)
def test_an_answer_is_due_by_the_rule(asked: str, hours: int, deadline: str) -> None:
    assert answer_by(at(asked), hours, WEEK) == at(deadline)


def test_over_a_change_of_the_clocks_the_hour_of_the_day_stays() -> None:
    """Berlin, 28 March 2027, clocks forward at 02:00 (tzdata 2026, europe: rule EU)."""
    office = Office(time(10), time(18), frozenset(range(1, 8)), BERLIN)
    found = answer_by(at("2027-03-27 17:00"), 24, office)
    assert found == at("2027-03-28 17:00")
    assert found.timestamp() - at("2027-03-27 17:00").timestamp() == timedelta(hours=23).total_seconds()


def test_office_hours_of_a_night_with_a_change_are_elapsed_hours() -> None:
    """Open 01:00 to 05:00: three hours on 28 March 2027, five on 31 October 2027 (tzdata 2026, rule EU)."""
    assert answer_by(at("2027-03-28 01:00"), 4, NIGHTS) == at("2027-03-29 02:00")
    assert answer_by(at("2027-10-31 01:00"), 5, NIGHTS) == at("2027-10-31 05:00")


def test_a_deadline_at_an_hour_that_is_skipped_or_comes_twice_is_the_later_instant() -> None:
    """02:30 in Berlin: skipped on 28 March 2027, twice on 31 October 2027 (tzdata 2026, rule EU)."""
    assert answer_by(at("2027-03-27 02:30"), 24, NIGHTS) == at("2027-03-28 03:30")
    late = at("2027-10-31 02:30").replace(fold=1)
    assert answer_by(at("2027-10-30 02:30"), 24, NIGHTS).timestamp() == late.timestamp()


def test_a_change_of_half_an_hour_south_of_the_equator() -> None:
    """Lord Howe goes back half an hour on 4 April 2027 at 02:00 (tzdata 2026, australasia: rule LH)."""
    howe = ZoneInfo("Australia/Lord_Howe")
    office = Office(time(10), time(18), frozenset(range(1, 8)), howe)
    asked = datetime(2027, 4, 3, 17, 0, tzinfo=howe)
    found = answer_by(asked, 24, office)
    assert found.astimezone(howe).replace(tzinfo=None) == datetime(2027, 4, 4, 17, 0)  # noqa: DTZ001
    assert found.timestamp() - asked.timestamp() == 24.5 * 3600


def test_a_hold_lapses_when_the_office_closes_and_is_asked_the_day_before() -> None:
    assert end_of_day(date(2027, 3, 5), WEEK) == at("2027-03-05 18:00")
    assert undecided_from(at("2027-03-04 00:30"), time(16), BERLIN) == at("2027-03-03 16:00")


@pytest.mark.parametrize(
    ("opens", "closes", "days"), [(18, 10, {1}), (10, 10, {1}), (10, 18, set()), (10, 18, {8})]
)
def test_an_office_that_never_opens_is_refused(opens: int, closes: int, days: set[int]) -> None:
    with pytest.raises(ValueError, match="An office has to"):
        Office(time(opens), time(closes), frozenset(days), BERLIN)


ZONES = ["Europe/Berlin", "Australia/Lord_Howe", "America/New_York", "Asia/Kathmandu", "America/Santiago"]


@given(
    zone=st.sampled_from(ZONES),
    days=st.frozensets(st.integers(1, 7), min_size=1),
    opens=st.integers(0, 22),
    length=st.integers(1, 23),
    asked=st.datetimes(datetime(2026, 1, 1), datetime(2030, 12, 31)),  # noqa: DTZ001
    hours=st.integers(1, 100),
)
def test_a_deadline_is_ahead_in_office_hours_and_never_earlier_with_more_hours(
    zone: str, days: frozenset[int], opens: int, length: int, asked: datetime, hours: int
) -> None:
    tz = ZoneInfo(zone)
    office = Office(time(opens), time(min(opens + length, 23), 59), days, tz)
    asked = asked.replace(tzinfo=ZoneInfo("UTC"))
    found = answer_by(asked, hours, office)
    there = found.astimezone(tz)
    assert found > asked
    assert there.isoweekday() in days
    assert office.opening(there.date()) <= found <= office.closing(there.date())
    assert answer_by(asked, hours + 24, office) > found
