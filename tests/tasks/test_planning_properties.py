"""What holds for every house and every list."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace

import pytest
from hypothesis import given, settings

from tasks.planning import bench_cases
from tasks.planning.checker import violations
from tasks.planning.costs import Costs
from tasks.planning.groups import house_of
from tasks.planning.model import Model
from tasks.planning.plan import plan
from tasks.planning.shortfall import OUT_OF_TIME
from tasks.planning.snapshot import Plan, Snapshot
from tests.tasks.planning_houses import small_snapshots, snapshots
from tests.tasks.planning_worth import best_worth, seating_of, worth


def timeless(made: Plan) -> Plan:
    return replace(made, solver=replace(made.solver, seconds=0.0))


@settings(max_examples=200, deadline=None)
@given(snapshots())
def test_every_plan_holds_the_hard_rules(snapshot: Snapshot) -> None:
    assert violations(snapshot, plan(snapshot)) == []


@settings(max_examples=40, deadline=None)
@given(snapshots(most_needs=24, most_units=24, most_preamps=5))
def test_plans_of_long_lists_hold_the_hard_rules_and_are_proven(snapshot: Snapshot) -> None:
    made = plan(snapshot)
    assert violations(snapshot, made) == []
    assert made.solver.status in ("proven", "nothing to plan")


@settings(max_examples=120, deadline=None)
@given(small_snapshots())
def test_no_plan_that_could_be_made_is_better(snapshot: Snapshot) -> None:
    """Tries every plan: the number filled by priority is maximal, and the other costs least."""
    made = plan(snapshot)
    assert worth(snapshot, seating_of(snapshot, made), Costs()) == best_worth(snapshot, Costs())


@settings(max_examples=120, deadline=None)
@given(snapshots())
def test_the_objective_is_what_the_named_plan_is_worth(snapshot: Snapshot) -> None:
    """Names are given after the proof; they must neither gain nor lose anything."""
    made = plan(snapshot)
    *left_out, soft = worth(snapshot, seating_of(snapshot, made), Costs())
    each = Model(house_of(snapshot, Costs())).left_out
    assert made.solver.objective == soft + sum(
        each[p] * n for p, n in zip(sorted(each), left_out, strict=True)
    )


@settings(max_examples=100, deadline=None)
@given(snapshots())
def test_each_empty_input_names_a_shortage(snapshot: Snapshot) -> None:
    for left in plan(snapshot).unfilled:
        assert OUT_OF_TIME not in left.reason.lower()
        assert left.help


@settings(max_examples=25, deadline=None)
@given(snapshots())
def test_the_same_snapshot_gives_the_same_plan(snapshot: Snapshot) -> None:
    shuffled = replace(
        snapshot, pickups=snapshot.pickups[::-1], preamps=snapshot.preamps[::-1], needs=snapshot.needs[::-1]
    )
    assert timeless(plan(snapshot)) == timeless(plan(snapshot)) == timeless(plan(shuffled))


def test_another_process_makes_the_same_plan() -> None:
    """Hashes of words differ from process to process; plans may not."""
    code = (
        "from tasks.planning import bench_cases, plan\n"
        "made = plan.plan(bench_cases.snapshot(48))\n"
        "print(made.inputs, made.unfilled, sorted(made.phantom_on), made.solver.objective)"
    )
    told = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(told) == 1


@pytest.mark.parametrize("inputs", [16, 48, 96])
def test_the_lists_that_are_timed_are_proven_and_hold(inputs: int) -> None:
    snapshot = bench_cases.snapshot(inputs)
    made = plan(snapshot)
    assert len(snapshot.needs) == inputs
    assert violations(snapshot, made) == []
    assert made.solver.status == "proven"
    assert made.unfilled == ()
