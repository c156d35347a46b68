"""Spans against a grid of minutes that is counted by hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.spans import Span, first_gap, gaps, merged, peak_use

ZERO = datetime(2027, 3, 4, tzinfo=UTC)
MINUTES = 40


def minute(number: int) -> datetime:
    return ZERO + timedelta(minutes=number)


def spans(open_ended: bool = True) -> st.SearchStrategy[Span]:
    ends = st.one_of(st.none(), st.integers(1, MINUTES)) if open_ended else st.integers(1, MINUTES)
    pairs = st.tuples(st.integers(0, MINUTES - 1), ends).filter(lambda p: p[1] is None or p[1] > p[0])
    return pairs.map(lambda p: Span(minute(p[0]), None if p[1] is None else minute(p[1])))


def covered(found: list[Span]) -> set[int]:
    """The minutes of the grid that some span covers, looked at one by one."""
    return {n for n in range(MINUTES) for span in found if minute(n) in span}


WITHIN = Span(ZERO, minute(MINUTES))


@given(st.lists(spans(), max_size=8))
def test_merged_covers_the_same_minutes_with_spans_apart(busy: list[Span]) -> None:
    found = merged(busy)
    assert covered(found) == covered(busy)
    assert all(a.end is not None and a.end < b.start for a, b in pairwise(found))


@given(st.lists(spans(), max_size=8), spans(open_ended=False))
def test_gaps_are_what_is_left(busy: list[Span], within: Span) -> None:
    inside = covered([within])
    found = gaps(busy, within)
    assert covered(found) == inside - covered(busy)
    assert found == sorted(found)
    assert all(not gap.overlaps(span) for gap in found for span in busy)


@given(st.lists(spans(), max_size=8), st.integers(0, MINUTES - 1), st.integers(1, 15))
def test_first_gap_is_the_earliest_start_that_fits(busy: list[Span], after: int, length: int) -> None:
    found = first_gap(busy, minute(after), timedelta(minutes=length))
    far = max([MINUTES, *(n for n in range(MINUTES))]) + 16
    taken = {n for n in range(far) for span in busy if minute(n) in span}
    fits = (n for n in range(after, MINUTES + 1) if not taken & set(range(n, n + length)))
    expected = next(fits, None)
    assert found == (None if expected is None else minute(expected))


@given(st.lists(st.tuples(spans(), st.integers(1, 5)), max_size=8), spans(open_ended=False))
def test_peak_use_is_the_busiest_minute(taken: list[tuple[Span, int]], within: Span) -> None:
    by_minute = [
        sum(quantity for span, quantity in taken if minute(n) in span) for n in sorted(covered([within]))
    ]
    assert peak_use(taken, within) == max(by_minute)


@given(spans(), spans())
def test_two_spans_overlap_when_a_minute_lies_in_both(one: Span, other: Span) -> None:
    assert one.overlaps(other) == bool(covered([one]) & covered([other]))
    assert one.overlaps(other) == other.overlaps(one)


def test_spans_that_only_touch_do_not_overlap() -> None:
    assert not Span(minute(0), minute(5)).overlaps(Span(minute(5), minute(9)))


def test_a_span_needs_a_zone_and_a_length() -> None:
    with pytest.raises(ValueError, match="zone"):
        Span(datetime(2027, 3, 4), minute(1))  # noqa: DTZ001
    with pytest.raises(ValueError, match="end after"):
        Span(minute(1), minute(1))
