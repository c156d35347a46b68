"""Zone arithmetic on the nights when clocks change.

Change dates and offsets: IANA time zone database, as published with tzdata 2026 (files europe, northamerica,
australasia, southamerica).
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import time_machine
from hypothesis import given
from hypothesis import strategies as st

from studio.clock import day_span, say, say_length, say_span, twice_or_never
from studio.spans import Span
from studio.templatetags.house import said_day

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        ("Europe/Berlin", date(2026, 3, 29), 23),  # tzdata 2026, europe: rule EU, last Sunday of March
        ("Europe/Berlin", date(2026, 10, 25), 25),  # the same rule, last Sunday of October
        ("America/New_York", date(2026, 3, 8), 23),  # tzdata 2026, northamerica: rule US, second Sunday
        ("America/New_York", date(2026, 11, 1), 25),  # rule US, first Sunday of November
        ("Australia/Lord_Howe", date(2026, 4, 5), 24.5),  # tzdata 2026, australasia: rule LH, 30 minutes
        ("Australia/Lord_Howe", date(2026, 10, 4), 23.5),  # rule LH, first Sunday of October
        ("Pacific/Auckland", date(2026, 4, 5), 25),  # tzdata 2026, australasia: rule NZ, south of the equator
        ("Pacific/Auckland", date(2026, 9, 27), 23),  # rule NZ, last Sunday of September
        ("America/Santiago", date(2026, 9, 6), 23),  # tzdata 2026, southamerica: midnight itself is skipped
        ("Asia/Kolkata", date(2026, 3, 29), 24),  # no changes
    ],
)
def test_a_day_is_as_long_as_the_clocks_make_it(zone: str, day: date, hours: float) -> None:
    assert day_span(day, ZoneInfo(zone)).length == timedelta(hours=hours)


def test_the_day_in_berlin_begins_at_ten_in_the_evening_utc() -> None:
    """Field case F59; Berlin is two hours ahead of UTC in June (tzdata 2026, europe)."""
    found = day_span(date(2026, 6, 11), BERLIN)
    assert found == Span(datetime(2026, 6, 10, 22, tzinfo=UTC), datetime(2026, 6, 11, 22, tzinfo=UTC))


@pytest.mark.parametrize(
    ("zone", "wall", "expected"),
    [
        ("Europe/Berlin", "2026-03-29 02:30", "never"),  # clocks go from 02:00 to 03:00
        ("Europe/Berlin", "2026-03-29 02:00", "never"),
        ("Europe/Berlin", "2026-03-29 01:59", None),
        ("Europe/Berlin", "2026-03-29 03:00", None),
        ("Europe/Berlin", "2026-10-25 02:30", "twice"),  # clocks go from 03:00 back to 02:00
        ("Europe/Berlin", "2026-10-25 02:00", "twice"),
        ("Europe/Berlin", "2026-10-25 03:00", None),
        ("Australia/Lord_Howe", "2026-10-04 02:15", "never"),  # from 02:00 to 02:30
        ("Australia/Lord_Howe", "2026-10-04 02:30", None),
        ("Australia/Lord_Howe", "2026-04-05 01:45", "twice"),  # from 02:00 back to 01:30
        ("Australia/Lord_Howe", "2026-04-05 01:15", None),
        ("Pacific/Auckland", "2026-09-27 02:30", "never"),
        ("UTC", "2026-03-29 02:30", None),
    ],
)
def test_wall_times_that_are_skipped_or_repeated_are_known(
    zone: str, wall: str, expected: str | None
) -> None:
    """tzdata 2026, as above."""
    assert twice_or_never(datetime.fromisoformat(wall), ZoneInfo(zone)) == expected


ZONES = ["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Pacific/Auckland", "Asia/Kathmandu"]


@given(
    st.sampled_from([*ZONES, "America/Santiago"]),
    st.dates(min_value=date(2026, 1, 1), max_value=date(2030, 12, 30)),
)
def test_days_follow_one_another_without_gap_or_overlap(zone: str, day: date) -> None:
    tz = ZoneInfo(zone)
    today, tomorrow = day_span(day, tz), day_span(day + timedelta(days=1), tz)
    assert today.end == tomorrow.start
    assert today.start.astimezone(tz).date() == day
    assert (tomorrow.start - timedelta(seconds=1)).astimezone(tz).date() == day


@given(
    st.sampled_from(ZONES),
    st.datetimes(min_value=datetime(2026, 1, 1), max_value=datetime(2030, 12, 31)),  # noqa: DTZ001
)
def test_a_wall_time_is_skipped_or_repeated_just_when_counting_the_instants_says_so(
    zone: str, wall: datetime
) -> None:
    """Against a count: how many instants within a day of it show this wall time on that clock."""
    tz, wall = ZoneInfo(zone), wall.replace(second=0, microsecond=0)
    near = {
        wall.replace(tzinfo=UTC) - timedelta(hours=h, minutes=m)
        for h in range(-14, 15)
        for m in (0, 15, 30, 45)
    }
    shown = sum(instant.astimezone(tz).replace(tzinfo=None) == wall for instant in near)
    assert twice_or_never(wall, tz) == {0: "never", 1: None, 2: "twice"}[shown]


def test_an_instant_is_said_on_the_site_s_clock() -> None:
    assert say(datetime(2027, 3, 4, 15, 40, tzinfo=UTC), BERLIN) == "Thu 4 March, 16:40"


def test_a_day_of_another_year_is_said_with_its_year() -> None:
    new_year_s_eve = Span(datetime(2027, 12, 31, 19, tzinfo=UTC), datetime(2028, 1, 1, 1, tzinfo=UTC))
    with time_machine.travel(datetime(2027, 6, 1, tzinfo=UTC), tick=False):
        said = say_span(new_year_s_eve, BERLIN)
    assert said == "Fri 31 December, 20:00 to Sat 1 January 2028, 02:00"
    with time_machine.travel(datetime(2028, 6, 1, tzinfo=UTC), tick=False):
        assert say(new_year_s_eve.start, BERLIN) == "Fri 31 December 2027, 20:00"
        assert said_day(new_year_s_eve.start, BERLIN) == "Fri 31 December 2027"
    with time_machine.travel(datetime(2027, 6, 1, tzinfo=UTC), tick=False):
        assert say(new_year_s_eve.start, BERLIN, dated=True) == "Fri 31 December 2027, 20:00"


def test_a_span_names_the_second_day_only_when_it_is_another() -> None:
    start = datetime(2027, 3, 4, 9, tzinfo=UTC)
    assert say_span(Span(start, start + timedelta(hours=9)), BERLIN) == "Thu 4 March, 10:00 to 19:00"
    assert (
        say_span(Span(start, start + timedelta(hours=16)), BERLIN)
        == "Thu 4 March, 10:00 to Fri 5 March, 02:00"
    )
    assert say_span(Span(start, None), BERLIN) == "from Thu 4 March, 10:00, end not known"


def test_a_night_over_the_change_is_as_long_as_it_took() -> None:
    """Elapsed time: 22:00 to 04:00 is seven hours when the clocks go back (tzdata 2026, europe)."""
    start = datetime(2026, 10, 24, 22, tzinfo=BERLIN)
    assert say_length(Span(start, datetime(2026, 10, 25, 4, tzinfo=BERLIN)).length) == "7 h"


@pytest.mark.parametrize(
    ("minutes", "said"), [(0, "0 min"), (45, "45 min"), (60, "1 h"), (90, "1 h 30 min"), (4320, "72 h")]
)
def test_a_length_is_said_in_hours_and_minutes(minutes: int, said: str) -> None:
    assert say_length(timedelta(minutes=minutes)) == said
