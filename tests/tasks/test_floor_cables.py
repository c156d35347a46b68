"""How long a cable is: reckoned by hand for a plain room, and never shorter than the straight way."""

from __future__ import annotations

from math import dist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.floors.records import Area, Floor, Point, WallBox
from tasks.floor.cables import SLACK_M, cable_lengths_m, nearest_run, run

BOX = WallBox("Box A", (0, 0), 1, 16)
HALL = Area("Hall", ((0, 0), (10, 0), (10, 8), (0, 8)), boxes=(BOX,))
ELL = Area("Ell", ((0, 0), (6, 0), (6, 2), (2, 2), (2, 6), (0, 6)), boxes=(WallBox("B", (6, 1), 1, 8),))


def test_straight_across_up_the_stand_and_slack() -> None:
    """By hand: 3-4-5 triangle on the floor, 2.5 m up a tall boom, 2 m slack (common practice, no single source)."""
    found = run(HALL, BOX, (3, 4), "tall boom")
    assert found.metres == 5 + 2.5 + 2
    assert not found.by_wall


def test_a_cable_that_would_cross_where_people_walk_goes_round_by_the_wall() -> None:
    """By hand: the wall nearest to (9, 1.5) is the right one, 1 m away. 10 m along the upper wall, 1.5 m down the right
    one, 1 m in; 1 m up a short boom, 2 m slack. Straight across it would be √83.25 = 9.1 m."""
    way = [(5, 8), (5, 0.3)]
    found = run(HALL, BOX, (9, 1.5), "short boom", [way])
    assert found.by_wall
    assert found.way == ((0, 0), (0, 0), (10, 0), (10, 1.5), (9, 1.5))
    assert found.metres == 10 + 1.5 + 1 + 1 + 2
    assert run(HALL, BOX, (9, 1.5), "short boom").metres == pytest.approx(9.1 + 3, abs=0.1)


def test_a_cable_crosses_a_way_and_is_covered_where_the_wall_is_much_longer() -> None:
    """By hand: from (0, 0) to (5, 4.5) straight √45.25 = 6.7 m. Its nearest wall is the lower one: 8 + 5 + 3.5 =
    16.5 m by the wall, 9.8 m longer than straight."""
    found = run(HALL, BOX, (5, 4.5), "", [[(2, 8), (2, 0.5)]])
    assert found.crosses
    assert not found.by_wall
    assert found.metres == pytest.approx(6.7 + 1 + 2, abs=0.05)


def test_round_a_corner_a_cable_follows_the_wall() -> None:
    """By hand: from (6, 1) down to the corner (6, 2), 4 m to (2, 2), 3 m to (2, 5), 1 m in; 1 m up, 2 m slack."""
    found = run(ELL, ELL.boxes[0], (1.1, 5))
    assert found.by_wall
    assert found.metres == pytest.approx(1 + 4 + 3 + 0.9 + 1 + 2)


def test_each_input_gets_the_length_to_the_nearest_box_and_none_where_there_is_no_box() -> None:
    two = Area("Hall", HALL.outline, boxes=(BOX, WallBox("Box B", (10, 8), 17, 32)))
    bare = Area("Booth", ((10, 0), (12, 0), (12, 2), (10, 2)))
    places: dict[int, tuple[str, Point]] = {1: ("Hall", (10, 7)), 2: ("Booth", (11, 1))}
    assert cable_lengths_m(Floor((two, bare)), places, {}, {}) == {1: 1 + 1 + 2}
    nearest = nearest_run(two, (10, 7))
    assert nearest is not None
    assert nearest.box.name == "Box B"


@given(st.floats(0.1, 9.9), st.floats(0.1, 7.9), st.floats(0, 10))
def test_no_cable_is_shorter_than_the_straight_way_and_the_slack(x: float, y: float, way: float) -> None:
    found = run(HALL, BOX, (x, y), "", [[(way, 0), (way, 8)]])
    assert found.metres >= dist((0, 0), (x, y)) + SLACK_M - 0.06
