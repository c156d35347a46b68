"""The checker can fail: a plan that holds is broken in each way, and each time it must complain."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings

from tasks.planning.checker import violations
from tasks.planning.plan import plan
from tasks.planning.snapshot import (
    CableKind,
    Phantom,
    Pickup,
    Plan,
    Snapshot,
    StandFigures,
    Switching,
    Unfilled,
)
from tests.tasks.planning_houses import di_box, di_need, house, line_need, mic, mic_need, preamp, snapshots

WHOLE = house(
    needs=[
        mic_need(1, "small condenser", stand="tall boom", peak_spl_db=135.0, patterns=("cardioid",)),
        mic_need(2, "ribbon", stand="tall boom"),
        mic_need(3, wish="model d", wish_binds=True),
        di_need(4, "passive di"),
        line_need(5),
        mic_need(6, "large condenser"),
        mic_need(7, "large condenser"),
    ],
    units=[
        mic("S-1", "small condenser", max_spl_db=130.0, pad_db=10, current_ma=4.0, gain_at_94_db=41.0),
        mic("R-1", "ribbon"),
        mic("D-1"),
        mic("K-1", max_spl_db=120.0),
        di_box("B-1", inputs=2),
        mic("L-1", "large condenser", current_ma=4.0),
    ],
    racks=[
        preamp("P-1", 4, Switching.PER_BANK, bank_size=2, phantom_supply_ma=8.0, dead=(2,)),
        preamp("P-2", 4, Switching.PER_BANK, bank_size=2),
    ],
    stands={"tall boom": 2},
    lines=8,
    recorder_inputs=8,
)
HOLDS = plan(WHOLE)


def row(number: int, **changes: Any) -> Callable[[Plan], Plan]:
    """Changes one planned input."""

    def change(made: Plan) -> Plan:
        assert number in {r.number for r in made.inputs}
        return replace(
            made, inputs=tuple(replace(r, **changes) if r.number == number else r for r in made.inputs)
        )

    return change


def place_of(number: int) -> dict[str, Any]:
    found = next(r for r in HOLDS.inputs if r.number == number)
    return {"preamp": found.preamp, "channel": found.channel}


def switch(tag: str, bank: int, on: bool) -> Callable[[Plan], Plan]:
    return lambda made: replace(
        made, phantom_on=made.phantom_on | {(tag, bank)} if on else made.phantom_on - {(tag, bank)}
    )


def test_the_plan_to_be_broken_holds_and_has_every_part() -> None:
    assert violations(WHOLE, HOLDS) == []
    assert {r.pickup for r in HOLDS.inputs} == set(Pickup)
    assert HOLDS.phantom_on
    assert len(HOLDS.unfilled) == 1


LEFT = HOLDS.unfilled[0]
BREAKS: dict[str, tuple[Callable[[Plan], Plan], str]] = {
    "an input forgotten": (lambda m: replace(m, inputs=m.inputs[1:]), "asked for 1 times and answered 0"),
    "an input planned and unfilled": (
        lambda m: replace(m, unfilled=(*m.unfilled, Unfilled(1, "source 1", "voice", "none", ()))),
        "answered 2 times",
    ),
    "an unfilled input forgotten": (lambda m: replace(m, unfilled=()), "answered 0 times"),
    "an input nobody asked for": (row(1, label="kazoo"), "was not asked for"),
    "no reason": (lambda m: replace(m, unfilled=(replace(LEFT, reason=" "),)), "does not say the reason"),
    "no why": (row(1, why=()), "does not say why"),
    "an empty why": (row(1, why=("",)), "does not say why"),
    "another pickup": (row(4, pickup=Pickup.LINE), "wants di and has line"),
    "another stand": (row(1, stand=None), "wants stand tall boom"),
    "a unit used twice": (row(7 if LEFT.number == 6 else 6, unit="S-1"), "is used 2 times"),
    "a box used twice on one input": (row(3, unit="B-1"), "is used 2 times"),
    "a box input that is not there": (row(4, unit_input=3), "which has 2"),
    "no box input": (row(4, unit_input=None), "which has 2"),
    "a unit that is not there": (row(3, unit="X-9"), "not in the house"),
    "no unit": (row(3, unit=None), "has no unit"),
    "a unit on a line-level source": (row(5, unit="K-1"), "is line level and has unit"),
    "a unit of another pickup": (row(3, unit="B-1", unit_input=2), "and B-1 is di"),
    "a kind that is not listed": (row(2, unit="K-1"), "not listed for it"),
    "a pad off that is needed": (row(1, pad=False), "peaks at 135"),
    "a pad on that isn't there": (row(3, pad=True), "has a pad on"),
    "a binding wish not met": (row(3, unit="K-1"), "must have model d"),
    "a line used twice": (row(2, line=1), "line 1 is used 2 times"),
    "a line that is not there": (row(2, line=9), "line 9 does not exist"),
    "a recorder input used twice": (row(2, recorder_input=1), "recorder input 1 is used 2 times"),
    "a recorder input that is not there": (row(2, recorder_input=0), "recorder input 0 does not exist"),
    "a channel used twice": (row(2, **place_of(3)), "is used 2 times"),
    "a channel that is not there": (row(2, channel=9), "can't be used"),
    "no channel": (row(2, preamp=None, channel=None), "can't be used"),
    "a channel on a line-level source": (row(5, preamp="P-2", channel=4), "has a preamp channel"),
    "a switch that is not there": (switch("P-1", 3, on=True), "no phantom switch 3"),
    "a switch of a preamp that is not there": (switch("P-9", 1, on=True), "no phantom switch 1"),
    "phantom said on": (row(2, phantom=True), "which its channel contradicts"),
    "phantom said off": (row(1, phantom=False), "which its channel contradicts"),
    "called proven with a gap": (
        lambda m: replace(m, solver=replace(m.solver, bound=m.solver.objective - 1)),
        "bound is below its objective",
    ),
    "a bound above the objective": (
        lambda m: replace(m, solver=replace(m.solver, bound=m.solver.objective + 1)),
        "is above the objective",
    ),
    "an unknown status": (lambda m: replace(m, solver=replace(m.solver, status="fine")), "status is 'fine'"),
}


@pytest.mark.parametrize("name", BREAKS)
def test_a_broken_plan_is_found_out(name: str) -> None:
    break_it, complaint = BREAKS[name]
    found = violations(WHOLE, break_it(HOLDS))
    assert any(complaint in text for text in found), found


# Breaks of the house under a plan that holds: the fault came after the plan


def with_unit(tag: str, **changes: Any) -> Snapshot:
    return replace(WHOLE, pickups=tuple(replace(u, **changes) if u.tag == tag else u for u in WHOLE.pickups))


def with_racks(**changes: Any) -> Snapshot:
    return replace(WHOLE, preamps=tuple(replace(p, **changes) for p in WHOLE.preamps))


def without_phantom() -> Snapshot:
    silent = [
        replace(p, channels=tuple(replace(c, phantom_works=False) for c in p.channels)) for p in WHOLE.preamps
    ]
    return replace(WHOLE, preamps=tuple(silent))


def noisy_above(gain_db: float) -> Snapshot:
    noisy = [
        replace(p, channels=tuple(replace(c, noisy_above_db=gain_db) for c in p.channels))
        for p in WHOLE.preamps
    ]
    return replace(WHOLE, preamps=tuple(noisy))


CHANGED: dict[str, tuple[Snapshot, str]] = {
    "a unit out": (replace(WHOLE, pickups=WHOLE.pickups[1:]), "not in the house"),
    "a stand less": (replace(WHOLE, stands={"tall boom": 1}), "2 of stand tall boom are used and 1 are free"),
    "no stand of the kind": (replace(WHOLE, stands={}), "and 0 are free"),
    "lines gone": (replace(WHOLE, lines=3), "line 4 does not exist"),
    "recorder inputs gone": (replace(WHOLE, recorder_inputs=3), "recorder input 4 does not exist"),
    "preamps gone": (replace(WHOLE, preamps=()), "can't be used"),
    "the phantom of every channel dead": (without_phantom(), "needs phantom and gets none"),
    "one switch for all": (with_racks(switching=Switching.WHOLE_UNIT), "switch"),
    "no switch at all": (with_racks(switching=Switching.NONE), "needs phantom and gets none"),
    "always on": (
        with_racks(switching=Switching.ALWAYS_ON),
        "R-1 (must_not) is on a channel that is switched on",
    ),
    "a hungrier microphone": (with_unit("S-1", current_ma=9.0), "13 mA are drawn"),
    "a unit found to be harmed by phantom": (with_unit("S-1", phantom=Phantom.UNKNOWN), "S-1 (unknown)"),
    "a unit found to need phantom": (
        with_unit("R-1", phantom=Phantom.NEEDS),
        "R-1 needs phantom and gets none",
    ),
    "a louder source": (
        replace(
            WHOLE, needs=tuple(replace(n, peak_spl_db=150.0) if n.number == 1 else n for n in WHOLE.needs)
        ),
        "peaks at 150",
    ),
    "a pad stuck": (with_unit("S-1", pad_db=0), "has a pad on"),
    "a pattern dead": (with_unit("S-1", only_patterns=("omni",)), "wants cardioid, S-1 can only take omni"),
    "channels noisy": (noisy_above(-1.0), "asks for 10 dB of gain, its channel is noisy above -1 dB"),
}


@pytest.mark.parametrize("name", CHANGED)
def test_a_change_in_the_house_is_found_out(name: str) -> None:
    snapshot, complaint = CHANGED[name]
    found = violations(snapshot, HOLDS)
    assert any(complaint in text for text in found), found


def test_a_channel_that_is_noisy_only_above_what_is_asked_for_is_no_breach() -> None:
    """41 dB at 94 dB SPL is 0 dB at 135, and 10 dB with the pad of 10 that this level needs."""
    assert violations(noisy_above(10.0), HOLDS) == []


def test_the_halves_of_a_pair_are_set_to_what_the_quieter_asks_for() -> None:
    loud, soft = mic_need(1, pair=1, peak_spl_db=114.0), mic_need(2, pair=1, peak_spl_db=104.0)
    units = [mic(f"M-{n}", gain_at_94_db=60.0) for n in (1, 2)]
    snapshot = house([loud, soft], units, [preamp("P-1", 2, Switching.PER_CHANNEL)])
    made = plan(snapshot)
    noisy = tuple(replace(c, noisy_above_db=45.0) for c in snapshot.preamps[0].channels)
    found = violations(replace(snapshot, preamps=(replace(snapshot.preamps[0], channels=noisy),)), made)
    told = "asks for 50 dB of gain, its channel is noisy above 45 dB"
    assert found == [f"input {number} {told}" for number in (1, 2)]


def test_an_overdrawn_phantom_supply_is_found_out() -> None:
    rack = preamp("P-1", 2, Switching.PER_CHANNEL, phantom_supply_ma=8.0)
    hungry = [mic(f"S-{n}", "small condenser", current_ma=4.0) for n in (1, 2)]
    snapshot = house([mic_need(n, "small condenser") for n in (1, 2)], hungry, [rack])
    made = plan(snapshot)
    assert violations(snapshot, made) == []
    weaker = replace(snapshot, preamps=(replace(rack, phantom_supply_ma=7.9),))
    assert violations(weaker, made) == ["P-1 gives 7.9 mA of phantom and 8 mA are drawn"]


def test_must_not_and_needs_in_one_bank_is_found_out() -> None:
    condenser = next(r for r in HOLDS.inputs if r.number == 1)
    mate = {1: 2, 2: 1, 3: 4, 4: 3}[condenser.channel or 0]
    moved = row(2, preamp=condenser.preamp, channel=mate)(HOLDS)
    assert any(
        "R-1 (must_not) is on a channel that is switched on" in text for text in violations(WHOLE, moved)
    )


# What is carried, plugged in and patched, on a house of its own

LADEN = house(
    needs=[
        mic_need(1, "large condenser", stand="short boom", cable_m=8.0, peak_spl_db=94.0),
        mic_need(2, stand="short boom", cable_m=3.0),
        line_need(3),
    ],
    units=[
        mic("V-1", "large condenser", own_supply=True, weight_kg=1.5, gain_at_94_db=40.0),
        mic("D-1", weight_kg=0.3),
    ],
    racks=[preamp("P-1", 2, Switching.PER_CHANNEL, here=False, least_gain_db=10.0, most_gain_db=60.0)],
    stand_figures={"short boom": StandFigures(1.0, 0.6), "tall boom": StandFigures(4.0, 2.0)},
    cables=(CableKind("5 m", 1, 5.0), CableKind("10 m", 1, 10.0)),
    patch_points=2,
    mains_outlets=1,
)
LADEN_HOLDS = plan(LADEN)


def laden(**changes: Any) -> tuple[Snapshot, Plan]:
    return replace(LADEN, **changes), LADEN_HOLDS


def laden_rack(**changes: Any) -> tuple[Snapshot, Plan]:
    return laden(preamps=(replace(LADEN.preamps[0], **changes),))


def laden_row(number: int, **changes: Any) -> tuple[Snapshot, Plan]:
    rows = (replace(r, **changes) if r.number == number else r for r in LADEN_HOLDS.inputs)
    return LADEN, replace(LADEN_HOLDS, inputs=tuple(rows))


OVERDONE: dict[str, tuple[tuple[Snapshot, Plan], str]] = {
    "too heavy for its stand": (
        laden_row(1, stand="short boom"),
        "V-1 weighs 1.5 kg, short boom carries 1 kg",
    ),
    "a stronger stand without need": (laden_row(2, stand="tall boom"), "wants stand short boom"),
    "a stand that doesn't reach as far": (
        laden(stand_figures={**LADEN.stand_figures, "tall boom": StandFigures(4.0, 0.5)}),
        "wants stand short boom and has tall boom",
    ),
    "a cable too short": (laden_row(1, cable="5 m"), "needs 8 m of cable and has 5 m"),
    "a cable twice": (laden_row(2, cable="10 m"), "2 of cable 10 m are used and 1 are free"),
    "a cable that isn't counted": (laden_row(2, cable="7 m"), "has cable 7 m, which the house doesn't count"),
    "no cable": (laden_row(2, cable=None), "has cable None"),
    "a microphone cable for a line": (laden_row(3, cable="5 m"), "has cable 5 m"),
    "an outlet too few": (laden(mains_outlets=0), "1 supplies want a mains outlet and the room has 0"),
    "a patch point too few": (laden(patch_points=1), "2 inputs go through a patch point and the room has 1"),
    "not said to be patched": (laden_row(1, patched=False), "says patched False"),
    "more gain than it gives": (laden_rack(most_gain_db=39.0), "its channel gives 39 dB at most"),
    "less gain than it gives": (laden_rack(least_gain_db=41.0), "its channel gives 41 dB at least"),
}


def test_the_laden_plan_holds() -> None:
    assert violations(LADEN, LADEN_HOLDS) == []
    assert [(row.stand, row.cable) for row in LADEN_HOLDS.inputs] == [
        ("tall boom", "10 m"),
        ("short boom", "5 m"),
        (None, None),
    ]


@pytest.mark.parametrize("name", OVERDONE)
def test_what_is_overdone_is_found_out(name: str) -> None:
    (snapshot, made), complaint = OVERDONE[name]
    found = violations(snapshot, made)
    assert any(complaint in text for text in found), found


@settings(max_examples=60, deadline=None)
@given(snapshots())
def test_no_generated_plan_survives_losing_a_part(snapshot: Snapshot) -> None:
    """An input dropped, a needed switch turned off, a powered unit that turns out to be harmed by it."""
    made = plan(snapshot)
    for lost in made.inputs:
        assert violations(snapshot, replace(made, inputs=tuple(r for r in made.inputs if r != lost)))
    always = {p.tag for p in snapshot.preamps if p.switching is Switching.ALWAYS_ON}
    for lit in made.phantom_on:
        if lit[0] not in always:
            assert violations(snapshot, replace(made, phantom_on=made.phantom_on - {lit}))
    powered = {r.unit for r in made.inputs if r.phantom}
    for tag in powered:
        units = (replace(u, phantom=Phantom.MUST_NOT) if u.tag == tag else u for u in snapshot.pickups)
        assert violations(replace(snapshot, pickups=tuple(units)), made)
