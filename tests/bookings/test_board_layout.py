"""Where time lies on the board: percent, lanes, ticks."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.board.layout import Block, Taken, Window, lay_out
from bookings.board.ticks import days_on_view, hour_ticks, hours_shown
from studio.spans import Span

ZERO = datetime(2027, 3, 4, tzinfo=UTC)
DAY = Window(ZERO, ZERO + timedelta(hours=24))
BERLIN = ZoneInfo("Europe/Berlin")


def hour(number: float) -> datetime:
    return ZERO + timedelta(hours=number)


def taken(start: float, end: float | None, pattern: str = "session", origin: int = 1, row: int = 1) -> Taken:
    span = Span(hour(start), None if end is None else hour(end))
    return Taken(row, (1, origin), span, pattern, f"S{origin}", pattern)


def on_board(block: Block) -> list[tuple[str, float, float]]:
    """Each piece with its left and right in percent of the window."""
    found = [
        (p.pattern, block.left + p.left * block.width / 100, p.width * block.width / 100)
        for p in block.pieces
    ]
    return [(pattern, round(left, 2), round(left + width, 2)) for pattern, left, width in found]


def test_setup_session_and_turnaround_of_one_session_are_one_block() -> None:
    claims = [taken(18, 19, "turnaround"), taken(8, 10, "setup"), taken(10, 18)]
    (block,) = lay_out(claims, DAY)[1]
    assert block.span == Span(hour(8), hour(19))
    assert on_board(block) == [("setup", 33.33, 41.67), ("session", 41.67, 75.0), ("turnaround", 75.0, 79.17)]


def test_what_reaches_past_the_window_is_cut_at_its_edge() -> None:
    (early, late) = lay_out([taken(-5, 6), taken(22, 30, origin=2)], DAY)[1]
    assert on_board(early) == [("session", 0, 25.0)]
    assert on_board(late) == [("session", 91.67, 100.0)]


def test_what_has_no_end_reaches_the_edge() -> None:
    (block,) = lay_out([taken(12, None, "closed")], DAY)[1]
    assert on_board(block) == [("closed", 50.0, 100.0)]


def test_the_parts_of_a_hold_look_like_one() -> None:
    (block,) = lay_out([taken(8, 10, "hold"), taken(10, 18, "hold")], DAY)[1]
    assert [piece.pattern for piece in block.pieces] == ["hold"]


def test_one_origin_with_a_pause_makes_two_blocks() -> None:
    assert len(lay_out([taken(8, 10), taken(12, 14)], DAY)[1]) == 2


def test_overlapping_holds_lie_on_lanes_of_their_own() -> None:
    claims = [taken(8, 12), taken(10, 14, origin=2), taken(12, 16, origin=3), taken(13, 15, origin=4)]
    assert [(b.origin[1], b.lane) for b in lay_out(claims, DAY)[1]] == [(1, 0), (2, 1), (3, 0), (4, 2)]


def test_rows_do_not_touch_each_other() -> None:
    found = lay_out([taken(8, 12), taken(8, 12, row=2)], DAY)
    assert {row: [b.lane for b in blocks] for row, blocks in found.items()} == {1: [0], 2: [0]}


starts_and_lengths = st.lists(st.tuples(st.integers(-20, 100), st.integers(1, 40)), max_size=12)


@given(starts_and_lengths)
def test_on_one_lane_nothing_overlaps_and_words_have_their_own_room(pairs: list[tuple[int, int]]) -> None:
    claims = [taken(s / 4, (s + n) / 4, origin=number) for number, (s, n) in enumerate(pairs)]
    blocks = lay_out(claims, DAY).get(1, [])
    assert len(blocks) == sum(DAY.shows(claim.span) for claim in claims)
    for lane in {block.lane for block in blocks}:
        row = [block for block in blocks if block.lane == lane]
        for one, other in pairwise(row):
            assert not one.span.overlaps(other.span)
            assert one.left + one.width <= other.left + 0.01
    for block in blocks:
        assert block.left >= 0
        assert block.left + block.width <= 100.01
        for piece in block.pieces:
            assert piece.left >= -0.01
            assert piece.left + piece.width <= 100.1


@given(starts_and_lengths)
def test_there_are_no_more_lanes_than_sessions_at_the_busiest_instant(pairs: list[tuple[int, int]]) -> None:
    claims = [taken(s / 4, (s + n) / 4, origin=number) for number, (s, n) in enumerate(pairs)]
    shown = [claim.span for claim in claims if DAY.shows(claim.span)]
    busiest = max((sum(span.start in other for other in shown) for span in shown), default=0)
    assert len({block.lane for block in lay_out(claims, DAY).get(1, [])}) == busiest


@pytest.mark.parametrize(
    ("day", "labels"),
    [
        (date(2027, 3, 4), [f"{n:02}" for n in range(24)]),
        (date(2026, 3, 29), ["00", "01", *(f"{n:02}" for n in range(3, 24))]),  # tzdata 2026: 02 is skipped
        (date(2026, 10, 25), ["00", "01", "02", "02", *(f"{n:02}" for n in range(3, 24))]),  # 02 comes twice
    ],
)
def test_hours_are_those_of_the_clock_on_change_nights_too(day: date, labels: list[str]) -> None:
    assert [tick.label for tick in hour_ticks(days_on_view(day, 1, BERLIN), BERLIN)] == labels


def test_hours_stay_whole_where_the_clocks_change_by_half_an_hour() -> None:
    """Lord Howe, 5 April 2026: 02:00 becomes 01:30 (tzdata 2026, australasia: rule LH)."""
    tz = ZoneInfo("Australia/Lord_Howe")
    ticks = hour_ticks(days_on_view(date(2026, 4, 5), 1, tz), tz)
    assert [tick.label for tick in ticks[:4]] == ["00", "01", "02", "03"]
    assert ticks[2].at - ticks[1].at == pytest.approx(100 * 1.5 / 24.5, abs=0.01)


def test_the_day_shows_its_usual_hours_and_more_only_when_needed() -> None:
    day = days_on_view(date(2027, 3, 4), 1, BERLIN)
    usual = hours_shown(day, [], BERLIN)
    assert [tick.label for tick in hour_ticks(usual, BERLIN)][:: len(hour_ticks(usual, BERLIN)) - 1] == [
        "07",
        "22",
    ]
    early = Span(hour(4.75), hour(9))  # a quarter to six in Berlin
    assert hour_ticks(hours_shown(day, [early], BERLIN), BERLIN)[0].label == "05"
    overnight = Span(hour(20), hour(26))
    assert hours_shown(day, [overnight], BERLIN).end == day.end


@given(st.lists(st.tuples(st.integers(0, 95), st.integers(1, 20)), min_size=1, max_size=40))
def test_no_box_is_narrower_than_asked_and_none_lies_on_another(hours: list[tuple[int, int]]) -> None:
    claims = [taken(start / 4, start / 4 + length / 4, origin=n) for n, (start, length) in enumerate(hours)]
    by_lane: dict[int, list[Block]] = {}
    for block in lay_out(claims, DAY, least=2.0)[1]:
        assert block.width >= 2.0 - 0.001
        by_lane.setdefault(block.lane, []).append(block)
    for lane in by_lane.values():
        for before, after in pairwise(sorted(lane, key=lambda block: block.left)):
            assert before.left + before.width <= after.left + 0.001
