"""Times moved on a site's clock."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.board.shifts import ComesTwice, NoSuchTime, Shift, Times, clock_sentence, shifted
from bookings.sessions.walltime import FIRST, SECOND

BERLIN, LORD_HOWE, SANTIAGO = (
    ZoneInfo(n) for n in ("Europe/Berlin", "Australia/Lord_Howe", "America/Santiago")
)
ZONES = st.sampled_from([BERLIN, LORD_HOWE, SANTIAGO])
MINUTES = st.integers(0, 5 * 365 * 1440)
MOMENTS = MINUTES.map(lambda minutes: datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=minutes))


def times(start: datetime, hours: float = 8) -> Times:
    return Times(start, start + timedelta(hours=1), start + timedelta(hours=hours))


@given(MOMENTS, st.integers(-3000, 3000), st.integers(-300, 300))
def test_minutes_alone_are_elapsed_time(start: datetime, minutes: int, more: int) -> None:
    before = times(start, 24)
    after = shifted(before, Shift(minutes=minutes, end_minutes=more), BERLIN)
    assert after.load_in - before.load_in == after.downbeat - before.downbeat == timedelta(minutes=minutes)
    assert after.end - before.end == timedelta(minutes=minutes + more)


@given(MOMENTS, ZONES, st.integers(-400, 400).filter(bool), st.sampled_from([FIRST, SECOND]))
def test_days_keep_the_hour_on_the_clock(start: datetime, zone: ZoneInfo, days: int, which: str) -> None:
    before = times(start)
    try:
        after = shifted(before, Shift(days=days), zone, which)
    except NoSuchTime:
        return
    for was, now in zip(
        (before.load_in, before.downbeat, before.end), (after.load_in, after.downbeat, after.end), strict=True
    ):
        there, here = was.astimezone(zone), now.astimezone(zone)
        assert (there.time(), there.date() + timedelta(days=days)) == (here.time(), here.date())


def test_an_hour_that_is_skipped_is_no_hour() -> None:
    """Lord Howe moves its clocks by 30 minutes: no 02:15 on 4 October 2026 (tzdata 2026, australasia: rule LH)."""
    start = datetime(2026, 10, 3, 2, 15, tzinfo=LORD_HOWE)
    with pytest.raises(NoSuchTime, match="no 02:15 on Sun 4 October"):
        shifted(times(start), Shift(days=1), LORD_HOWE)
    assert (
        shifted(times(start), Shift(days=1, minutes=15), LORD_HOWE).load_in.astimezone(LORD_HOWE).minute == 30
    )


def test_an_hour_that_comes_twice_is_asked_about() -> None:
    """Lord Howe, 5 April 2026: 01:30 to 02:00 comes twice (tzdata 2026, australasia: rule LH)."""
    start = times(datetime(2026, 4, 4, 1, 45, tzinfo=LORD_HOWE))
    with pytest.raises(ComesTwice, match="01:45 on Sun 5 April 2026 comes twice"):
        shifted(start, Shift(days=1), LORD_HOWE)
    first, second = (shifted(start, Shift(days=1), LORD_HOWE, which) for which in (FIRST, SECOND))
    assert second.load_in - first.load_in == timedelta(minutes=30)


def test_a_clock_change_inside_is_said_in_minutes() -> None:
    """28 March 2027, Berlin: an hour less (tzdata 2026, europe: rule EU)."""
    before = times(datetime(2027, 3, 26, 22, tzinfo=BERLIN))
    after = shifted(before, Shift(days=1), BERLIN)
    assert clock_sentence(before, after) == "The clocks change then: it is 60 min shorter than it was."
    assert clock_sentence(before, shifted(before, Shift(days=2), BERLIN)) == ""
