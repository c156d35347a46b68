"""When something falls due, and the first free slot for it. Sums by hand: there is no source to cite."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.service.due import Hours, Rule, Why, falls_due, first_slot, hours_within
from studio.spans import Span
from tests.house import BERLIN, at, span

NOW = at("2027-03-02 09:00")
OFFICE = Hours(BERLIN, time(10), time(18), frozenset({1, 2, 3, 4, 5}))


def days(*walls: tuple[str, str]) -> list[Span]:
    return [span(f"2027-{start}", f"2027-{end}") for start, end in walls]


def test_days_are_counted_on_the_calendar_of_the_site_across_a_clock_change() -> None:
    rule = Rule(at("2027-03-02 16:40"), done=True, every_days=30)
    due = falls_due(rule, [], NOW, BERLIN)
    assert (due.why, due.at) == (Why.DAYS, at("2027-04-01 00:00"))


def test_hours_of_use_are_summed_once_where_uses_overlap_and_the_past_only_counts_up_to_now() -> None:
    uses = days(
        ("02-20 10:00", "02-20 18:00"), ("02-20 12:00", "02-20 20:00"), ("03-02 08:00", "03-02 12:00")
    )
    assert hours_within(uses, at("2027-02-01 00:00"), NOW) == 11
    assert hours_within(uses, at("2027-02-20 19:00"), NOW) == 2


def test_use_over_a_clock_change_is_elapsed_time() -> None:
    night = [span("2027-03-27 22:00", "2027-03-28 06:00")]  # the hour from 2 to 3 is left out
    assert hours_within(night, at("2027-03-01 00:00"), at("2027-04-01 00:00")) == 7


def test_the_instant_at_which_the_hours_are_reached_is_found_in_what_is_booked() -> None:
    uses = days(
        ("02-20 10:00", "02-20 18:00"), ("03-05 10:00", "03-05 18:00"), ("03-06 10:00", "03-06 18:00")
    )
    rule = Rule(at("2027-02-01 00:00"), every_hours=20)
    due = falls_due(rule, uses, NOW, BERLIN)
    assert (due.why, due.at, due.hours) == (Why.HOURS, at("2027-03-06 14:00"), 8)


def test_hours_that_nothing_booked_will_reach_have_no_day() -> None:
    due = falls_due(Rule(at("2027-02-01 00:00"), every_hours=20), [], NOW, BERLIN)
    assert (due.at, due.hours) == (None, 0)


def test_what_comes_first_decides() -> None:
    uses = days(("03-05 10:00", "03-05 18:00"))
    rule = Rule(at("2027-03-01 00:00"), every_days=2, every_hours=4, before_use_days=3)
    assert falls_due(rule, uses, NOW, BERLIN).why == Why.DAYS
    rule = Rule(at("2027-03-01 00:00"), every_days=90, every_hours=4, before_use_days=3)
    assert falls_due(rule, uses, NOW, BERLIN).why == Why.USE


@pytest.mark.parametrize(
    ("tuned", "due"),
    [
        (None, "2027-03-05 10:00"),
        ("2027-03-01 12:00", "2027-03-05 10:00"),
        ("2027-03-02 10:00", "2027-03-09 10:00"),
        ("2027-03-02 08:00", "2027-03-05 10:00"),
    ],
)
def test_before_use_the_next_session_that_nothing_was_done_for_in_time(tuned: str | None, due: str) -> None:
    uses = days(
        ("03-01 10:00", "03-01 18:00"), ("03-05 10:00", "03-05 18:00"), ("03-09 10:00", "03-09 18:00")
    )
    rule = Rule(at(tuned or "2027-01-01 00:00"), done=tuned is not None, before_use_days=3)
    found = falls_due(rule, uses, NOW, BERLIN)
    assert found.at == at(due)
    assert found.opens == found.at - timedelta(days=3)


def test_the_first_slot_lies_in_office_hours_between_two_sessions() -> None:
    busy = days(("03-02 09:00", "03-02 11:10"), ("03-02 12:00", "03-02 22:00"))
    window = Span(NOW, NOW + timedelta(days=9))
    assert first_slot(busy, window, timedelta(minutes=45), OFFICE) == at("2027-03-02 11:15")
    assert first_slot(busy, window, timedelta(minutes=60), OFFICE) == at("2027-03-03 10:00")


def test_a_weekend_is_left_out_and_what_is_longer_than_a_day_begins_at_any_hour() -> None:
    friday = Span(at("2027-03-05 17:30"), at("2027-03-09 00:00"))
    assert first_slot([], friday, timedelta(hours=1), OFFICE) == at("2027-03-08 10:00")
    assert first_slot([], friday, timedelta(hours=9), OFFICE) == at("2027-03-05 17:30")


def test_what_is_out_without_end_has_no_slot() -> None:
    window = Span(NOW, NOW + timedelta(days=9))
    assert first_slot([Span(NOW, None)], window, timedelta(hours=1), OFFICE) is None


START = datetime(2027, 3, 20, tzinfo=UTC)
SPANS = st.builds(
    lambda start, length: Span(START + timedelta(minutes=start), START + timedelta(minutes=start + length)),
    st.integers(0, 14 * 1440),
    st.integers(1, 2000),
)


@settings(max_examples=150)
@given(busy=st.lists(SPANS, max_size=25), minutes=st.integers(1, 700), offset=st.integers(0, 5000))
def test_a_slot_is_never_on_top_of_anything_and_none_before_it_would_do(
    busy: list[Span], minutes: int, offset: int
) -> None:
    window = Span(START + timedelta(minutes=offset), START + timedelta(days=16))
    length = timedelta(minutes=minutes)
    start = first_slot(busy, window, length, OFFICE)
    for quarter in range(-(-offset // 15), 16 * 96):
        each = Span(begin := START + timedelta(minutes=15 * quarter), begin + length)
        if _fits(each, window, minutes) and not any(each.overlaps(other) for other in busy):
            assert start == each.start
            return
    assert start is None


def _fits(each: Span, window: Span, minutes: int) -> bool:
    """Written anew: on one office day from 10 to 18 on the clock of Berlin, unless it is longer than that."""
    assert each.end
    assert window.end
    if each.end > window.end:
        return False
    start, end = (instant.astimezone(BERLIN) for instant in (each.start, each.end))
    same = start.date() == end.date() and start.weekday() < 5
    return minutes > 480 or (same and start.time() >= time(10) and end.time() <= time(18))
