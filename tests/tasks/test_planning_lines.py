"""Lines by where the source stands: by hand, and never one for two inputs."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from tasks.planning.lines import on_near_lines
from tasks.planning.plan import plan
from tasks.planning.snapshot import Plan
from tests.tasks.planning_houses import house, line_need


def made_of(inputs: int, lines: int = 40) -> Plan:
    needs = [line_need(number) for number in range(1, inputs + 1)]
    return plan(house(needs, [], [], lines=lines))


def lines_of(made: Plan) -> list[int]:
    return [row.line for row in made.inputs]


def test_a_singer_in_the_booth_takes_a_line_of_the_booth_and_the_hall_counts_on() -> None:
    hall, booth = list(range(1, 17)), [33, 34]
    near = {1: hall, 2: booth, 3: hall, 4: booth}
    assert lines_of(on_near_lines(made_of(4), near, {}, 40)) == [1, 33, 2, 34]


def test_what_it_had_is_kept_before_anything_nearer() -> None:
    near = {1: [1, 2, 3], 2: [1, 2, 3], 3: [1, 2, 3]}
    assert lines_of(on_near_lines(made_of(3), near, {"source 2": 1, "source 3": 39}, 40)) == [2, 1, 39]


def test_who_stands_where_no_line_ends_waits_for_the_others() -> None:
    assert lines_of(on_near_lines(made_of(3), {2: [1, 2], 3: [1, 2]}, {}, 40)) == [3, 1, 2]


def test_a_full_box_and_a_line_that_the_room_has_not_are_passed_over() -> None:
    near = {1: [99, 5], 2: [99, 5], 3: [99, 5]}
    assert lines_of(on_near_lines(made_of(3, lines=5), near, {"source 1": 77}, 5)) == [5, 1, 2]


@given(
    near=st.dictionaries(st.integers(1, 6), st.lists(st.integers(1, 9), max_size=4), max_size=6),
    had=st.dictionaries(st.sampled_from([f"source {n}" for n in range(1, 7)]), st.integers(0, 9)),
    most=st.integers(6, 9),
)
def test_every_input_has_a_line_of_its_own_that_the_room_has(
    near: dict[int, list[int]], had: dict[str, int], most: int
) -> None:
    lines = lines_of(on_near_lines(made_of(6, lines=most), near, had, most))
    assert len(set(lines)) == 6
    assert all(1 <= line <= most for line in lines)
