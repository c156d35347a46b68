"""Realistic input lists of 16, 48 or 96 inputs, a house for them, and a bare lower bound to compare with.

All invented: models are letters, tags are counted through. The same size gives the same snapshot.
"""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace

from ortools.sat.python import cp_model

from tasks.planning.costs import Costs
from tasks.planning.groups import house_of
from tasks.planning.model import solver_of
from tasks.planning.snapshot import (
    CableKind,
    Missing,
    Need,
    Phantom,
    Pickup,
    PickupUnit,
    PreampChannel,
    PreampUnit,
    Snapshot,
    StandFigures,
    Switching,
)

LARGE, SMALL, RIBBON, COIL = "large condenser", "small condenser", "ribbon", "moving coil"
LEFT_OUT = 1_000_000
TALL, SHORT = "tall boom", "short boom"

# source, how it is picked up, kinds best first, stand, peak dB SPL, priority, channels
_BAND: tuple[tuple[str, Pickup, tuple[str, ...], str | None, float | None, int, int], ...] = (
    ("kick", Pickup.MIC, (COIL, LARGE), SHORT, 140, 1, 1),
    ("snare top", Pickup.MIC, (COIL, SMALL), SHORT, 138, 1, 1),
    ("snare bottom", Pickup.MIC, (COIL, SMALL), SHORT, 132, 3, 1),
    ("hi-hat", Pickup.MIC, (SMALL, RIBBON), TALL, 120, 3, 1),
    ("tom", Pickup.MIC, (COIL, SMALL), "clip", 135, 2, 1),
    ("floor tom", Pickup.MIC, (COIL, LARGE), SHORT, 135, 2, 1),
    ("overheads", Pickup.MIC, (SMALL, LARGE, RIBBON), TALL, 122, 1, 2),
    ("bass DI", Pickup.DI, ("active di", "passive di"), None, None, 1, 1),
    ("bass amplifier", Pickup.MIC, (COIL, LARGE), SHORT, 125, 2, 1),
    ("electric guitar", Pickup.MIC, (COIL, RIBBON), SHORT, 125, 1, 1),
    ("acoustic guitar", Pickup.MIC, (SMALL, LARGE), SHORT, 105, 1, 1),
    ("keys", Pickup.DI, ("passive di", "active di"), None, None, 2, 2),
    ("lead vocal", Pickup.MIC, (LARGE, COIL), TALL, 125, 1, 1),
    ("backing vocal", Pickup.MIC, (COIL, LARGE), TALL, 125, 2, 1),
    ("room", Pickup.MIC, (RIBBON, LARGE, SMALL), TALL, 110, 3, 2),
    ("piano", Pickup.MIC, (SMALL, LARGE), TALL, 115, 1, 2),
    ("trumpet", Pickup.MIC, (RIBBON, COIL), TALL, 130, 1, 1),
    ("trombone", Pickup.MIC, (RIBBON, COIL), TALL, 130, 2, 1),
    ("saxophone", Pickup.MIC, (LARGE, RIBBON, COIL), TALL, 120, 2, 1),
    ("violin", Pickup.MIC, (SMALL, RIBBON), TALL, 105, 2, 1),
    ("cello", Pickup.MIC, (LARGE, SMALL, RIBBON), SHORT, 105, 2, 1),
    ("playback", Pickup.LINE, (), None, None, 2, 2),
)


def snapshot(inputs: int) -> Snapshot:
    """A list of this many inputs and a house that is just about large enough, with a few things out."""
    return Snapshot(
        needs=tuple(_needs(inputs)),
        pickups=tuple(_pickups(inputs)),
        preamps=tuple(_preamps(inputs)),
        stands={TALL: inputs // 2 + 2, SHORT: inputs // 3 + 2, "clip": inputs // 12 + 1},
        lines=inputs + 2,
        recorder_inputs=inputs + 4,
        missing=(Missing("R-90", RIBBON, "is out for repair, back on Friday"),),
        stand_figures={
            TALL: StandFigures(4.5, 2.1),
            SHORT: StandFigures(0.6, 0.6),
            "clip": StandFigures(0.3),
        },
        cables=(
            CableKind("5 m", inputs // 3, 5.0),
            CableKind("10 m", inputs // 2, 10.0),
            CableKind("20 m", inputs // 3 + 2, 20.0),
        ),
        patch_points=inputs // 4,
        mains_outlets=inputs // 8,
    )


def _needs(inputs: int) -> Iterable[Need]:
    made: list[Need] = []
    pair = 0
    while len(made) < inputs:
        for source, pickup, kinds, stand, peak, priority, channels in _BAND:
            pair += channels == 2
            for half in range(channels):
                label = f"{source} {'LR'[half]}" if channels == 2 else source
                mark = pair if channels == 2 else None
                need = Need(len(made) + 1, label, source, pickup, kinds, stand, peak, priority, mark)
                made.append(
                    replace(need, cable_m=None if pickup is Pickup.LINE else 3.0 + len(made) * 7 % 12)
                )
    return made[:inputs]


def _pickups(inputs: int) -> Iterable[PickupUnit]:
    shelf = (
        ("K", "Model K", Pickup.MIC, COIL, Phantom.INDIFFERENT, None, 150.0, 0.0, 0.28, 120),
        ("V", "Model V", Pickup.MIC, COIL, Phantom.INDIFFERENT, None, 145.0, 0.0, 0.12, 400),
        ("L", "Model L", Pickup.MIC, LARGE, Phantom.NEEDS, 4.0, 130.0, 10.0, 0.14, 1900),
        ("T", "Model T", Pickup.MIC, LARGE, Phantom.MUST_NOT, None, 128.0, 0.0, 0.05, 4200),
        ("S", "Model S", Pickup.MIC, SMALL, Phantom.NEEDS, 2.5, 135.0, 10.0, 0.24, 700),
        ("N", "Model N", Pickup.MIC, SMALL, Phantom.NEEDS, 3.2, 134.0, 0.0, 0.10, 1100),
        ("R", "Model R", Pickup.MIC, RIBBON, Phantom.MUST_NOT, None, 135.0, 0.0, 0.10, 1300),
        ("Q", "Model Q", Pickup.MIC, RIBBON, Phantom.NEEDS, 4.5, 130.0, 0.0, 0.05, 1600),
        ("A", "Box A", Pickup.DI, "active di", Phantom.NEEDS, 6.0, None, 0.0, 0.06, 150),
        ("P", "Box P", Pickup.DI, "passive di", Phantom.INDIFFERENT, None, None, 0.0, 0.08, 90),
    )
    asks_db = {"K": 60.0, "V": 62.0, "L": 40.0, "T": 42.0, "S": 46.0, "N": 44.0, "R": 64.0, "Q": 50.0}
    kilos = {"K": 0.3, "V": 0.28, "L": 0.65, "T": 0.9, "S": 0.12, "N": 0.15, "R": 0.75, "Q": 0.7}
    for letter, model, pickup, kind, phantom, current, most, pad, share, value in shelf:
        for n in range(1, round(share * inputs) + 2):
            yield PickupUnit(
                tag=f"{letter}-{n:02}",
                model=model,
                pickup=pickup,
                kind=kind,
                phantom=Phantom.UNKNOWN if letter == "R" and n == 2 else phantom,
                own_supply=letter == "T",
                current_ma=current,
                max_spl_db=most,
                pad_db=pad,
                inputs=2 if letter == "P" else 1,
                here=n % 4 != 0,
                limits=("crackles when warm",) if n % 7 == 3 else (),
                value=value,
                gain_at_94_db=asks_db.get(letter),
                weight_kg=kilos.get(letter),
                matched=f"{letter} {(n + 1) // 2}" if letter in "SLR" else "",
            )


def _preamps(inputs: int) -> Iterable[PreampUnit]:
    kinds = (
        (Switching.PER_CHANNEL, 1, None),
        (Switching.PER_BANK, 4, 40.0),
        (Switching.WHOLE_UNIT, 8, None),
        (Switching.PER_CHANNEL, 1, 30.0),
    )
    for n in range(inputs // 8 + 2):
        switching, bank, supply = kinds[n % 4]
        dead = 3 + n % 4
        yield PreampUnit(
            tag=f"PRE-{n + 1:02}",
            model=f"Eight {n % 4}",
            channels=tuple(
                PreampChannel(c, phantom_works=not (c == dead and n % 3 == 1))
                for c in range(1, 9)
                if not (c == 6 and n % 5 == 2)
            ),
            switching=switching,
            bank_size=bank,
            drain_seconds=30,
            phantom_supply_ma=supply,
            least_gain_db=(0.0, 10.0)[n % 2],
            most_gain_db=(66.0, 60.0, 72.0)[n % 3],
            pad_db=20.0,
            here=n < inputs // 8 + 1,
        )


def bare_seconds(case: Snapshot) -> float:
    """Seconds to group, build and solve the bare assignment of units to inputs, and nothing else.

    No stands, channels, phantom, pairs, names or reasons: a plan can't take less, so it is the bound to
    compare with.
    """
    started = time.perf_counter()
    house = house_of(case, Costs())
    model = cp_model.CpModel()
    terms: list[cp_model.LinearExpr] = []
    given: dict[int, list[cp_model.IntVar]] = defaultdict(list)
    for group in house.need_groups:
        most = len(group.members)
        mine = {p: model.new_int_var(0, most, "") for p in house.choices(group)}
        model.add(sum(mine.values()) <= most)
        for p, var in mine.items():
            given[p].append(var)
            terms.append((house.cost(group, house.unit_groups[p]) - LEFT_OUT) * var)
    for p, variables in given.items():
        model.add(sum(variables) <= house.unit_groups[p].room)
    model.minimize(sum(terms))
    solver_of(60.0).solve(model)
    return time.perf_counter() - started
