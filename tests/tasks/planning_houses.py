"""Generated houses and lists for the planner's tests: all invented, all small enough to look at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from hypothesis import strategies as st

from tasks.planning.snapshot import (
    CableKind,
    Liking,
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

MIC_KINDS = ("moving coil", "ribbon", "small condenser", "large condenser")
DI_KINDS = ("active di", "passive di")
STANDS = ("tall boom", "short boom", "clip")
MODELS = ("Heron", "Wren", "Plover")
GAINS = {"Heron": 40.0, "Wren": 90.0, "Plover": None}
CURRENTS_MA = {"Heron": 2.0, "Wren": 4.5, "Plover": None, "Box One": 3.0, "Box Two": None}
"""Figures are those of a model, alike for all of its units."""
KILOS = {"Heron": 0.4, "Wren": 1.2, "Plover": None}
LIKED = (*MIC_KINDS, *MODELS, "M-01", "M-02")
WISHES = ("", "", "", "ribbon", "heron", "wren small", "kestrel")


# By hand: one builder for each record, with defaults that work together


def mic_need(number: int, *kinds: str, **rest: Any) -> Need:
    return Need(number, f"source {number}", "voice", Pickup.MIC, kinds or ("moving coil",), **rest)


def di_need(number: int, *kinds: str, **rest: Any) -> Need:
    return Need(number, f"source {number}", "bass", Pickup.DI, kinds, **rest)


def line_need(number: int, **rest: Any) -> Need:
    return Need(number, f"source {number}", "playback", Pickup.LINE, **rest)


def mic(tag: str, kind: str = "moving coil", **rest: Any) -> PickupUnit:
    """Its phantom entry follows its kind, as it does on the shelf."""
    usual = {
        "moving coil": Phantom.INDIFFERENT,
        "ribbon": Phantom.MUST_NOT,
        "small condenser": Phantom.NEEDS,
        "large condenser": Phantom.NEEDS,
    }
    fields = {"model": f"Model {tag[0]}", "pickup": Pickup.MIC, "phantom": usual[kind]}
    return PickupUnit(**{**fields, "tag": tag, "kind": kind, **rest})


def di_box(tag: str, kind: str = "passive di", **rest: Any) -> PickupUnit:
    phantom = Phantom.NEEDS if kind == "active di" else Phantom.INDIFFERENT
    return PickupUnit(
        **{"tag": tag, "model": "Box", "pickup": Pickup.DI, "kind": kind, "phantom": phantom, **rest}
    )


def preamp(tag: str, channels: int | tuple[int, ...], switching: Switching, **rest: Any) -> PreampUnit:
    """dead: the channels that have lost their phantom."""
    dead = rest.pop("dead", ())
    numbers = range(1, channels + 1) if isinstance(channels, int) else channels
    made = tuple(PreampChannel(n, phantom_works=n not in dead) for n in numbers)
    return PreampUnit(tag=tag, model="Eight", channels=made, switching=switching, **rest)


def house(
    needs: Sequence[Need], units: Sequence[PickupUnit], racks: Sequence[PreampUnit], **rest: Any
) -> Snapshot:
    """Lines, recorder inputs and stands for everyone, unless said otherwise."""
    plenty = {"lines": 99, "recorder_inputs": 99, "stands": dict.fromkeys(STANDS, 99)}
    return Snapshot(needs=tuple(needs), pickups=tuple(units), preamps=tuple(racks), **{**plenty, **rest})


# Generated

STAND_FIGURES = st.builds(
    StandFigures,
    load_kg=st.sampled_from((None, None, 0.3, 1.0, 3.0)),
    reach_m=st.sampled_from((None, 0.0, 0.6, 2.0)),
)


@st.composite
def microphones(draw: st.DrawFn, number: int) -> PickupUnit:
    model = draw(st.sampled_from(MODELS))
    return PickupUnit(
        tag=f"M-{number:02}",
        model=model,
        pickup=Pickup.MIC,
        kind=draw(st.sampled_from(MIC_KINDS)),
        phantom=draw(st.sampled_from(Phantom)),
        own_supply=model == "Plover" and draw(st.booleans()),
        current_ma=CURRENTS_MA[model],
        max_spl_db=draw(st.sampled_from((None, 130.0, 140.0))),
        pad_db=draw(st.sampled_from((0.0, 10.0))),
        here=draw(st.sampled_from((True, True, False))),
        limits=draw(st.sampled_from(((), (), ("crackles when warm",)))),
        only_patterns=draw(st.sampled_from(((), (), ("omni",), ("cardioid", "omni"), ("none",)))),
        last_choice=draw(st.sampled_from((False, False, False, True))),
        asked=draw(st.sampled_from((False, False, False, True))),
        gain_at_94_db=GAINS[model],
        weight_kg=KILOS[model],
        matched=draw(st.sampled_from(("", f"pair {number // 2}"))),
        value=draw(st.sampled_from((90, 1200, 2500, 9000))),
    )


@st.composite
def boxes(draw: st.DrawFn, number: int) -> PickupUnit:
    model = draw(st.sampled_from(("Box One", "Box Two")))
    return PickupUnit(
        tag=f"D-{number:02}",
        model=model,
        pickup=Pickup.DI,
        kind=draw(st.sampled_from(DI_KINDS)),
        phantom=draw(st.sampled_from((Phantom.NEEDS, Phantom.INDIFFERENT, Phantom.UNKNOWN))),
        current_ma=CURRENTS_MA[model],
        inputs=draw(st.sampled_from((1, 2))),
    )


@st.composite
def preamps(draw: st.DrawFn, number: int, most_channels: int) -> PreampUnit:
    """Some channels are out, some have lost only their phantom, some are under suspicion."""
    size = draw(st.integers(1, most_channels))
    present = [c for c in range(1, size + 1) if draw(st.sampled_from((True, True, True, False)))]
    return PreampUnit(
        tag=f"P-{number:02}",
        model="Eight",
        channels=tuple(
            PreampChannel(
                c,
                phantom_works=draw(st.sampled_from((True, True, True, False))),
                limits=draw(st.sampled_from(((), (), ("hums",)))),
                last_choice=draw(st.sampled_from((False, False, False, True))),
                noisy_above_db=draw(st.sampled_from((None, None, None, 10.0, 50.0))),
            )
            for c in present
        ),
        switching=draw(st.sampled_from(Switching)),
        bank_size=draw(st.sampled_from((1, 2, 4))),
        phantom_supply_ma=draw(st.sampled_from((None, None, 5.0, 9.0))),
        here=draw(st.sampled_from((True, True, False))),
        least_gain_db=draw(st.sampled_from((None, None, 0.0, 20.0))),
        most_gain_db=draw(st.sampled_from((None, None, 30.0, 60.0))),
        pad_db=draw(st.sampled_from((0.0, 0.0, 20.0))),
    )


@st.composite
def likings(draw: st.DrawFn) -> Liking:
    """Three inputs in four are liked in no way."""
    if draw(st.integers(0, 3)):
        return Liking()
    named = draw(st.lists(st.sampled_from(LIKED), max_size=4, unique=True))
    return Liking(tuple(named[:2]), tuple(named[2:]))


@st.composite
def needs(draw: st.DrawFn, number: int, pair: int | None) -> Need:
    pickup = draw(st.sampled_from((Pickup.MIC, Pickup.MIC, Pickup.MIC, Pickup.DI, Pickup.LINE)))
    kinds = {Pickup.MIC: MIC_KINDS, Pickup.DI: DI_KINDS, Pickup.LINE: ()}[pickup]
    liked = draw(st.permutations(kinds)) if kinds else []
    return Need(
        number=number,
        label=f"source {number}",
        source="source",
        pickup=pickup,
        kinds=tuple(liked[: draw(st.integers(0, len(liked)))]),
        stand=draw(st.sampled_from((None, "none", *STANDS))) if pickup is Pickup.MIC else None,
        peak_spl_db=draw(st.sampled_from((None, 120.0, 135.0, 145.0, 160.0))),
        priority=draw(st.integers(1, 3)),
        pair=pair,
        wish=draw(st.sampled_from(WISHES)),
        wish_binds=draw(st.sampled_from((False, False, False, True))),
        asked=draw(st.sampled_from((False, False, False, True))),
        patterns=draw(st.sampled_from(((), ("cardioid",), ("figure-of-eight", "omni")))),
        cable_m=draw(st.sampled_from((None, 4.0, 9.0, 18.0))),
        own=draw(likings()),
        house=draw(likings()),
    )


@st.composite
def lists(draw: st.DrawFn, most: int) -> tuple[Need, ...]:
    """Singles and pairs; the halves of a pair are nearly always alike."""
    made: list[Need] = []
    for pair in range(draw(st.integers(0, most))):
        first = draw(needs(len(made) + 1, pair))
        if len(made) + 2 <= most and draw(st.booleans()):
            other = draw(needs(first.number + 1, pair)) if draw(st.integers(0, 4)) == 0 else first
            made += [first, _renumbered(other, first.number + 1)]
        elif len(made) < most:
            made.append(first)
    return tuple(made)


def _renumbered(need: Need, number: int) -> Need:
    fields = {name: getattr(need, name) for name in Need.__slots__}
    return Need(**{**fields, "number": number, "label": f"source {number}"})


@st.composite
def kept(draw: st.DrawFn, asked: tuple[Need, ...], tags: list[str]) -> tuple[Need, ...]:
    """Some inputs have had a unit each until now, and some of those stand already."""
    had = iter(draw(st.permutations(tags)) if draw(st.booleans()) else [])
    return tuple(replace(need, had=next(had, ""), set_up=draw(st.booleans())) for need in asked)


@st.composite
def snapshots(
    draw: st.DrawFn,
    most_needs: int = 8,
    most_units: int = 10,
    most_preamps: int = 3,
    most_channels: int = 8,
    least_units: int = 0,
) -> Snapshot:
    """Houses with faults, partial faults and shortages of everything. With least_units: racks and lines too."""
    asked = draw(lists(most_needs))
    some = int(least_units > 0)
    mics = [draw(microphones(n)) for n in range(draw(st.integers(least_units, most_units)))]
    dis = [draw(boxes(n)) for n in range(draw(st.integers(0, max(1, most_units // 3))))]
    racks = [draw(preamps(n, most_channels)) for n in range(draw(st.integers(some, most_preamps)))]
    return Snapshot(
        needs=draw(kept(asked, [unit.tag for unit in mics + dis])),
        pickups=tuple(mics + dis),
        preamps=tuple(racks),
        stands={kind: draw(st.sampled_from((0, 1, 2, most_needs, most_needs))) for kind in STANDS},
        lines=draw(st.sampled_from((most_needs, most_needs, 2, 2 * some))),
        recorder_inputs=draw(st.sampled_from((most_needs, most_needs, most_needs, 3))),
        missing=(Missing("M-99", "ribbon", "is out for repair, back on Friday"),),
        stand_figures=draw(st.fixed_dictionaries(dict.fromkeys(STANDS, STAND_FIGURES))),
        cables=draw(
            st.none() | st.tuples(*(cables(length, most_needs) for length in (5.0, 10.0, 20.0, None)))
        ),
        patch_points=draw(st.sampled_from((None, None, most_needs, 1, 0))),
        mains_outlets=draw(st.sampled_from((None, None, most_needs, 1, 0))),
    )


def cables(length_m: float | None, most: int) -> st.SearchStrategy[CableKind]:
    counts = st.sampled_from((0, 1, most))
    return counts.map(lambda count: CableKind(f"{length_m or 'some'} m", count, length_m))


def small_snapshots() -> st.SearchStrategy[Snapshot]:
    """Small enough for every plan there is to be tried."""
    return snapshots(most_needs=4, most_units=4, most_preamps=2, most_channels=3)
