"""What a person types about a floor: read forgivingly, refused with a sentence, never lost."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.floors import reading, rules
from studio.floors.records import Fixed, Opening, WallBox
from studio.floors.shapes import area_m2, crosses_itself, inside


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("0, 4.5", (0, 4.5)),
        ("3,4", (3, 4)),
        ("3,5 4,2", (3.5, 4.2)),
        ("3,5; 4", (3.5, 4)),
        ("3,5,4,0", (3.5, 4)),
        ("(0 m; 4.5 m)", (0, 4.5)),
        ("x=-2 y=1", (-2, 1)),
        ("−1.5 / 2", (-1.5, 2)),
    ],
)
def test_a_point_is_read_however_it_is_written(text: str, at: tuple[float, float]) -> None:
    assert reading.point(text) == at


def test_each_kind_of_line_is_read() -> None:
    assert reading.wall_boxes("Box A: 0, 3; lines 1-16\n10, 2 line 17")[0] == (
        WallBox("Box A", (0, 3), 1, 16),
        WallBox("Box 2", (10, 2), 17, 17),
    )
    assert reading.doors("Main door: 0, 5 to 0, 6,2, 1\n")[1] == [
        "Line 1: “0, 6,2, 1” is no point. Write two numbers in metres, like 0, 4.5."
    ]
    assert reading.doors("Main door: 0,5 -> 0,6")[0] == (Opening("Main door", (0, 5), (0, 6)),)
    assert reading.windows("Pane: 2, 0 to 5, 0; sees Control\n6, 0 to 7, 0")[0] == (
        Opening("Pane", (2, 0), (5, 0), "Control"),
        Opening("Window 2", (6, 0), (7, 0)),
    )
    assert reading.fixed("Grand: 3, 4; 1,6 x 2,7 m")[0] == (Fixed("Grand", (3, 4), 1.6, 2.7),)
    assert reading.corners("0, 0\n4, 0\n4, 3\n\n0, 0")[0] == ((0, 0), (4, 0), (4, 3))


@given(st.text(max_size=200))
def test_any_text_gives_things_and_sentences_one_for_each_line(text: str) -> None:
    lines = sum(bool(line.strip()) for line in text.splitlines())
    for read in (reading.corners, reading.wall_boxes, reading.doors, reading.windows, reading.fixed):
        found, wrong = read(text)
        assert len(found) + len(wrong) in (lines, lines - 1)
        assert all(said.startswith(("Line ", "Over ")) for said in wrong)


metres = st.floats(-99, 99).map(lambda value: round(value, 2))
points = st.tuples(metres, metres)


@given(st.lists(st.tuples(points, st.integers(1, 99), st.integers(0, 20)), max_size=4))
def test_what_is_kept_reads_the_same_again(rows: list[tuple[tuple[float, float], int, int]]) -> None:
    boxes = tuple(WallBox(f"Box {n}", at, first, first + more) for n, (at, first, more) in enumerate(rows, 1))
    assert reading.wall_boxes(reading.said_boxes(boxes)) == (boxes, [])
    assert reading.corners(reading.said_corners([at for at, _, _ in rows]))[1] == []


def test_an_outline_that_is_none_is_refused_with_a_sentence() -> None:
    assert "three corners" in next(rules.outline_faults([(0, 0), (1, 0)]))
    bow_tie = [(0, 0), (4, 4), (4, 0), (0, 4)]
    assert crosses_itself(bow_tie) == (1, 3)
    assert "in the order" in next(rules.outline_faults(bow_tie))
    assert crosses_itself([(0, 0), (4, 0), (2, 0)]) is not None
    assert not list(rules.outline_faults([(0, 0), (4, 0), (4, 3), (0, 3)]))


def test_boxes_doors_and_things_outside_or_doubled_are_named() -> None:
    room = [(0, 0), (4, 0), (4, 3), (0, 3)]
    boxes = [WallBox("A", (0, 1), 1, 8), WallBox("B", (9, 1), 8, 9), WallBox("C", (4, 1), 10, 40)]
    said = list(rules.box_faults(boxes, room, lines=16))
    assert len(said) == 3
    assert said[0].startswith("B is outside")
    assert "Line 8 stands at A and at B" in said[1]
    assert "up to line 40, but the room has 16" in said[2]
    assert "1.5 m away" in next(rules.opening_faults([Opening("Door", (0, 1), (2, 1.5))], room))
    assert "partly outside" in next(rules.fixed_faults([Fixed("Grand", (0.2, 1), 1.6, 1)], room))


def test_areas_and_insides_by_hand() -> None:
    ell = [(0, 0), (6, 0), (6, 2), (2, 2), (2, 6), (0, 6)]
    assert area_m2(ell) == 12 + 8
    assert inside((1, 5), ell)
    assert inside((6, 1), ell)
    assert not inside((4, 4), ell)
