"""Gain, weight, cables, outlets, patch points, matched pairs: cases solved by hand, on invented round numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tasks.planning.carrying import is_microphone_cable
from tasks.planning.checker import violations
from tasks.planning.plan import plan
from tasks.planning.snapshot import CableKind, Phantom, Plan, PreampUnit, Snapshot, StandFigures, Switching
from tests.tasks.planning_houses import di_box, di_need, house, line_need, mic, mic_need, preamp

WEAK, TALL = StandFigures(1.0, 0.6), StandFigures(4.0, 2.0)


def planned(snapshot: Snapshot) -> Plan:
    made = plan(snapshot)
    assert violations(snapshot, made) == []
    assert made.solver.status == "proven"
    return made


def rack(tag: str = "P-1", channels: int = 8, **rest: object) -> PreampUnit:
    return preamp(tag, channels, Switching.PER_CHANNEL, **rest)


# Gain


@pytest.mark.parametrize(
    ("peak_db", "least", "most", "pad"), [(94, 0, 60, 0), (114, 45, 60, 5), (94, 60, 60, 0)]
)
def test_the_gain_lies_within_the_range_of_the_channel(
    peak_db: float, least: float, most: float, pad: float
) -> None:
    """60 dB at 94 dB SPL, 40 dB at 114: too little for 45 dB at least, unless the preamp's own pad takes 5 dB off."""
    made = planned(
        house(
            [mic_need(1, peak_spl_db=peak_db)],
            [mic("M-1", gain_at_94_db=60.0)],
            [rack(least_gain_db=least, most_gain_db=most, pad_db=pad)],
        )
    )
    assert len(made.inputs) == 1
    assert ("pad of P-1 in" in " ".join(made.inputs[0].why)) == bool(pad)


@pytest.mark.parametrize(
    ("least", "most", "said"), [(0, 59, "give 59 dB at most"), (61, 70, "give 61 dB at least")]
)
def test_a_gain_outside_every_range_leaves_the_input_empty_and_says_what_would_help(
    least: float, most: float, said: str
) -> None:
    made = planned(
        house(
            [mic_need(1, peak_spl_db=94)],
            [mic("M-1", gain_at_94_db=60.0)],
            [rack(least_gain_db=least, most_gain_db=most)],
        )
    )
    [left] = made.unfilled
    assert f"M-1 is free, but it asks for 60 dB of gain, and the channels that are left {said}" in left.reason
    assert "Bring in a preamp that gives 60 dB of gain." in left.help


def test_each_goes_to_the_preamp_that_gives_what_it_asks_for() -> None:
    units = [mic("A-1", gain_at_94_db=70.0), mic("B-1", "ribbon", gain_at_94_db=30.0)]
    racks = [rack("P-1", most_gain_db=60.0), rack("P-2", least_gain_db=50.0, most_gain_db=80.0)]
    needs = [mic_need(1, peak_spl_db=94), mic_need(2, "ribbon", peak_spl_db=94)]
    made = planned(house(needs, units, racks))
    assert [row.preamp for row in made.inputs] == ["P-2", "P-1"]


def test_the_pad_is_in_where_the_gain_asks_for_it() -> None:
    """20 dB at 94 is 10 dB at 104: under 15 dB at least, 20 dB with the pad of 10."""
    units = [mic("M-1", gain_at_94_db=20.0, max_spl_db=130.0, pad_db=10)]
    [row] = planned(house([mic_need(1, peak_spl_db=104)], units, [rack(least_gain_db=15.0)])).inputs
    assert row.pad
    assert (
        "Pad on: without it 10 dB of gain would be asked for, and the channel gives 15 dB at least."
        in row.why
    )


def test_the_halves_of_a_pair_are_set_alike() -> None:
    """The quieter half asks for 50 dB, so both do; 45 dB at most is too little for either."""
    needs = [mic_need(1, pair=1, peak_spl_db=114.0), mic_need(2, pair=1, peak_spl_db=104.0)]
    units = [mic(f"M-{n}", gain_at_94_db=60.0) for n in (1, 2)]
    assert planned(house(needs, units, [rack(most_gain_db=45.0)])).inputs == ()
    assert len(planned(house(needs, units, [rack(most_gain_db=50.0)])).inputs) == 2


def test_where_a_figure_is_missing_no_range_binds() -> None:
    narrow = rack(least_gain_db=30.0, most_gain_db=30.0)
    for need, unit in (
        (mic_need(1, peak_spl_db=120.0), mic("M-1")),
        (mic_need(1), mic("M-1", gain_at_94_db=60.0)),
    ):
        assert len(planned(house([need], [unit], [narrow])).inputs) == 1


# Stands


def test_what_a_stand_does_not_carry_goes_on_a_stronger_one_that_reaches_as_far() -> None:
    kinds = {"short boom": WEAK, "tall boom": TALL, "clip": StandFigures(0.3)}
    units = [mic("M-1", weight_kg=1.5), mic("M-2", weight_kg=0.5)]
    needs = [mic_need(n, stand="short boom") for n in (1, 2)]
    made = planned(house(needs, units, [rack()], stand_figures=kinds))
    assert {row.unit: row.stand for row in made.inputs} == {"M-1": "tall boom", "M-2": "short boom"}
    [why] = [row.why for row in made.inputs if row.unit == "M-1"]
    assert (
        "Tall boom stand instead of a short boom stand: M-1 weighs 1.5 kg, more than the 1 kg that one carries."
        in why
    )


def test_a_lighter_unit_is_taken_before_a_stronger_stand() -> None:
    units = [mic("M-1", weight_kg=1.5), mic("M-2", weight_kg=0.5)]
    kinds = {"short boom": WEAK, "tall boom": TALL}
    made = planned(house([mic_need(1, stand="short boom")], units, [rack()], stand_figures=kinds))
    assert [(row.unit, row.stand) for row in made.inputs] == [("M-2", "short boom")]


@pytest.mark.parametrize(
    "other", [StandFigures(4.0, 0.5), StandFigures(4.0), StandFigures(1.4, 2.0), StandFigures(None, 2.0)]
)
def test_a_stand_that_is_shorter_too_weak_or_not_known_does_not_stand_in(other: StandFigures) -> None:
    kinds = {"short boom": WEAK, "tall boom": other}
    made = planned(
        house([mic_need(1, stand="short boom")], [mic("M-1", weight_kg=1.5)], [rack()], stand_figures=kinds)
    )
    [left] = made.unfilled
    assert "a short boom stand carries 1 kg, every free moving coil weighs more" in left.reason.lower()
    assert "Hire or borrow one short boom stand that carries 1.5 kg for this session." in left.help


def test_the_stronger_stands_run_out_too() -> None:
    kinds = {"short boom": WEAK, "tall boom": TALL}
    units = [mic(f"M-{n}", weight_kg=1.5) for n in (1, 2)]
    needs = [mic_need(n, stand="short boom") for n in (1, 2)]
    stands = {"short boom": 9, "tall boom": 1}
    made = planned(house(needs, units, [rack()], stand_figures=kinds, stands=stands))
    assert len(made.inputs) == 1
    assert "No tall boom stand is left, which M-2 needs: input 1 has the only one." in made.unfilled[0].reason


def test_a_weight_or_a_load_that_is_not_known_restricts_nothing() -> None:
    for figures, weight in ((StandFigures(), 9.0), (WEAK, None)):
        unit = mic("M-1", weight_kg=weight)
        kinds = {"short boom": figures}
        [row] = planned(
            house([mic_need(1, stand="short boom")], [unit], [rack()], stand_figures=kinds)
        ).inputs
        assert row.stand == "short boom"
        assert (weight is not None) == ("what a short boom stand carries isn't known" in " ".join(row.why))


# Cables


def lengths(**counts: int) -> tuple[CableKind, ...]:
    """m5=2: two of 5 m."""
    return tuple(CableKind(name, count, float(name[1:])) for name, count in counts.items())


def test_each_gets_the_shortest_cable_that_does() -> None:
    needs = [mic_need(1, cable_m=4.0), mic_need(2, cable_m=9.0), mic_need(3), line_need(4)]
    units = [mic(f"M-{n}") for n in range(3)]
    made = planned(house(needs, units, [rack()], cables=lengths(m20=1, m5=2, m10=3)))
    assert [row.cable for row in made.inputs] == ["m5", "m10", "m5", None]


def test_long_cables_serve_short_runs_but_not_the_other_way_round() -> None:
    """Two of 10 m and one of 5 m: of two long runs and two short ones one short run goes without."""
    needs = [mic_need(n, cable_m=run, priority=1 + (run < 8)) for n, run in ((1, 4), (2, 8), (3, 8), (4, 4))]
    units = [mic(f"M-{n}") for n in range(4)]
    made = planned(house(needs, units, [rack()], cables=lengths(m10=2, m5=1)))
    assert [row.cable for row in made.inputs if row.number in (2, 3)] == ["m10", "m10"]
    assert sorted(row.cable or "" for row in made.inputs) == ["m10", "m10", "m5"]
    [left] = made.unfilled
    assert "no microphone cable" in left.reason.lower()
    assert "Join two cables, or stand nearer to a wall box." in left.help


def test_a_run_that_is_longer_than_any_cable_is_not_met() -> None:
    units = [mic("M-1")]
    units.append(mic("R-1", "ribbon"))
    made = planned(house([mic_need(1, cable_m=30.0)], units, [rack()], cables=lengths(m20=9)))
    assert not any("ribbon" in text for text in made.unfilled[0].help)  # it would need the same cable
    assert made.unfilled[0].reason == "No microphone cable of 30 m or more is left: the house has none free."


def test_cables_that_nobody_counts_restrict_nothing_and_a_length_not_known_serves_any_run_not_known() -> None:
    wants = house([mic_need(1, cable_m=30.0)], [mic("M-1")], [rack()])
    assert planned(wants).inputs[0].cable is None
    some = (CableKind("some", 1),)
    assert planned(replace(wants, cables=some)).inputs == ()
    loose = house([di_need(1, "passive di")], [di_box("B-1")], [rack()], cables=some)
    assert planned(loose).inputs[0].cable == "some"


@pytest.mark.parametrize(
    ("name", "ends", "is_one"),
    [
        ("XLR 10 m", "XLR female to male", True),
        ("XLR 10 m", "", True),
        ("Mikrofonkabel 10 m", "", True),
        ("microphone cable", "", True),
        ("red 5 m", "XLR", True),
        ("instrument lead 3 m", "jack to jack", False),
        ("XLR to jack 3 m", "XLR female to jack", False),
        ("loudspeaker lead", "", False),
        ("headphone extension 5 m", "stereo jack to socket", False),
    ],
)
def test_which_counted_cables_are_microphone_cables(name: str, ends: str, is_one: bool) -> None:
    assert is_microphone_cable(name, ends) is is_one


# Outlets and patch points


def test_a_supply_of_its_own_takes_an_outlet() -> None:
    valve = {"kind": "large condenser", "own_supply": True}
    units = [mic("V-1", **valve), mic("V-2", **valve), mic("L-1", "large condenser", value=9000)]
    needs = [mic_need(n, "large condenser") for n in (1, 2)]
    made = planned(house(needs, units, [rack()], mains_outlets=1))
    assert sum(row.unit in ("V-1", "V-2") for row in made.inputs) == 1
    assert len(made.inputs) == 2
    [left] = planned(house(needs[:1], units[:1], [rack()], mains_outlets=0)).unfilled
    assert "The supply of V-1 needs a mains outlet and the room has none left" in left.reason


def test_a_preamp_that_the_lines_do_not_reach_takes_a_patch_point_an_input() -> None:
    units = [mic(f"M-{n}") for n in range(4)]
    needs = [mic_need(n) for n in range(1, 5)]
    racks = [rack("P-1", 1), rack("P-2", 4, here=False)]
    made = planned(house(needs, units, racks, patch_points=2))
    assert [(row.preamp, row.patched) for row in made.inputs] == [
        ("P-1", False),
        ("P-2", True),
        ("P-2", True),
    ]
    [left] = made.unfilled
    assert "no patch point is left" in left.reason
    assert len(planned(house(needs, units, racks)).inputs) == 4


def test_a_ribbon_through_a_patch_point_waits_until_the_phantom_has_drained() -> None:
    far = rack("P-1", here=False, drain_seconds=90)
    [row] = planned(house([mic_need(1, "ribbon")], [mic("R-1", "ribbon")], [far])).inputs
    assert "Patched only after its phantom is off and 90 s have passed: see the checklist." in row.why


# Matched pairs


def test_a_matched_pair_goes_to_the_stereo_source_and_is_called_one() -> None:
    """By tag alone A-1 and A-2 would be taken; A-2 and A-4 were matched."""
    units = [mic("A-1"), mic("A-2", matched="pair 1"), mic("A-3"), mic("A-4", matched="pair 1")]
    needs = [mic_need(1, pair=1), mic_need(2, pair=1), mic_need(3)]
    made = planned(house(needs, units, [rack()]))
    rows = {row.number: row for row in made.inputs}
    assert {rows[1].unit, rows[2].unit} == {"A-2", "A-4"}
    assert rows[3].unit == "A-1"
    assert "Pair with input 2: a matched pair, neighbouring channels." in rows[1].why


def test_one_model_is_worth_more_than_a_match_and_a_match_more_than_a_walk() -> None:
    pair = {"matched": "pair 1"}
    needs = [mic_need(1, pair=1), mic_need(2, pair=1)]
    fetched = [mic("A-1"), mic("A-2"), mic("A-3", here=False, **pair), mic("A-4", here=False, **pair)]
    made = planned(house(needs, fetched, [rack()]))
    assert {row.unit for row in made.inputs} == {"A-3", "A-4"}
    mixed = [mic("A-1", **pair), mic("B-1", **pair), mic("B-2", phantom=Phantom.INDIFFERENT)]
    made = planned(house(needs, mixed, [rack()]))
    assert {row.unit for row in made.inputs} == {"B-1", "B-2"}
    assert any("Not matched with each other" in text for text in made.inputs[0].why)


def test_a_stereo_source_goes_into_one_box_before_two() -> None:
    boxes = [di_box("B-1"), di_box("B-2"), di_box("B-3", inputs=2)]
    made = planned(house([di_need(1, pair=1), di_need(2, pair=1)], boxes, [rack()]))
    assert [(row.unit, row.unit_input) for row in made.inputs] == [("B-3", 1), ("B-3", 2)]
    assert "Pair with input 2: both in one box, neighbouring channels." in made.inputs[0].why


def test_what_an_input_has_had_is_weighed_against_the_match() -> None:
    """Both halves had one of two pairs: one pair is taken whole, since a match outweighs what was before."""
    units = [mic(f"A-{n}", matched=f"pair {(n + 1) // 2}") for n in (1, 2, 3, 4)]
    needs = [mic_need(1, pair=1, had="A-1"), mic_need(2, pair=1, had="A-4")]
    made = planned(house(needs, units, [rack()]))
    assert {row.unit for row in made.inputs} in ({"A-1", "A-2"}, {"A-3", "A-4"})
