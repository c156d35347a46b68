"""The planner against assignment problems whose least cost is published.

Rows become inputs, columns units of a kind each; a cost becomes the place of the kind in the input's list.
Two equal costs in a row can't share a place, so cost c in column j stands at place 8c + j; each complete
assignment uses every column once, which adds the same 0 + 1 + 2 ... to all of them.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tasks.planning.costs import CONCERNS, Costs
from tasks.planning.plan import plan
from tasks.planning.snapshot import PickupUnit, Snapshot, Switching
from tests.tasks.planning_houses import house, mic, mic_need, preamp

STEP = 8
ONLY_KINDS = Costs(**dict.fromkeys((c.field for c in CONCERNS), 0) | {"step_down_in_kind": 1})

# Published worked solutions and exercise pages, each optimum recomputed; the last one is from memory.
PUBLISHED = [
    pytest.param(
        ((7, 3, 4, 8), (5, 4, 6, 5), (6, 7, 9, 6), (8, 6, 7, 4)), 18, id="Operations Management, ch. 15"
    ),
    pytest.param(
        ((14, 7, 3, 7, 27), (20, 7, 12, 6, 30), (10, 3, 4, 5, 21), (8, 12, 7, 12, 21), (13, 25, 24, 26, 8)),
        28,
        id="Operations Management, ch. 15, five by five",
    ),
    pytest.param(
        ((10, 20, 18, 14), (15, 25, 9, 25), (30, 19, 17, 12), (19, 24, 20, 10)),
        48,
        id="course MTH601, computed",
    ),
    pytest.param(
        ((10, 14, 22, 12), (16, 10, 18, 12), (8, 14, 20, 14), (20, 8, 16, 6)),
        46,
        id="exercise page, five optima",
    ),
    pytest.param(
        ((14, 5, 8, 7), (2, 12, 6, 5), (7, 8, 3, 9), (2, 4, 6, 10)),
        15,
        id="Operations Research, assignment section, from memory",
    ),
]

Matrix = tuple[tuple[int, ...], ...]


def as_house(matrix: Matrix) -> Snapshot:
    needs = []
    for number, row in enumerate(matrix, start=1):
        kinds = [f"unused {place}" for place in range(STEP * (max(row) + 1))]
        for column, cost in enumerate(row):
            kinds[STEP * cost + column] = f"kind {column}"
        needs.append(mic_need(number, *kinds))
    units = [replace(mic(f"M-{c}"), kind=f"kind {c}", model=f"Model {c}") for c in range(len(matrix[0]))]
    return house(needs, units, [preamp("P-1", len(matrix), Switching.PER_CHANNEL)])


def least(matrix: Matrix) -> int:
    columns = range(len(matrix[0]))
    return min(
        sum(row[c] for row, c in zip(matrix, p, strict=True)) for p in permutations(columns, len(matrix))
    )


@pytest.mark.parametrize(("matrix", "optimum"), PUBLISHED)
def test_the_least_cost_is_the_published_one(matrix: Matrix, optimum: int) -> None:
    made = plan(as_house(matrix), costs=ONLY_KINDS)
    ties = sum(range(len(matrix)))
    assert least(matrix) == optimum
    assert made.solver.status == "proven"
    assert made.solver.objective == made.solver.bound == STEP * optimum + ties


square = st.integers(2, 5).flatmap(
    lambda n: st.lists(st.tuples(*[st.integers(0, 9)] * n), min_size=n, max_size=n).map(tuple)
)


@settings(max_examples=40, deadline=None)
@given(square)
def test_any_small_assignment_costs_no_more_than_the_best_permutation(matrix: Matrix) -> None:
    made = plan(as_house(matrix), costs=ONLY_KINDS)
    assert len(made.inputs) == len(matrix)
    assert made.solver.objective == STEP * least(matrix) + sum(range(len(matrix)))


def test_equal_units_are_counted_not_tried() -> None:
    """Forty like inputs on fifty like units: one group each, whatever their names."""
    units: list[PickupUnit] = [mic(f"D-{n:02}") for n in range(50)]
    racks = [preamp(f"P-{n}", 8, Switching.PER_CHANNEL) for n in range(5)]
    made = plan(house([mic_need(n) for n in range(1, 41)], units, racks))
    assert len({row.unit for row in made.inputs}) == 40
    assert made.solver.status == "proven"
