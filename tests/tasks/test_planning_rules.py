"""Each hard rule on a case small enough to solve by hand. Levels and currents are invented round numbers."""

from __future__ import annotations

import pytest

from tasks.planning.checker import violations
from tasks.planning.plan import plan
from tasks.planning.snapshot import (
    Phantom,
    Pickup,
    Plan,
    PlannedInput,
    PreampChannel,
    PreampUnit,
    Snapshot,
    Switching,
)
from tests.tasks.planning_houses import di_box, di_need, house, line_need, mic, mic_need, preamp

PER_CHANNEL = preamp("P-1", 8, Switching.PER_CHANNEL)


def planned(snapshot: Snapshot) -> Plan:
    made = plan(snapshot)
    assert violations(snapshot, made) == []
    return made


def only(snapshot: Snapshot) -> PlannedInput:
    (row,) = planned(snapshot).inputs
    return row


def units(made: Plan) -> dict[int, str | None]:
    return {row.number: row.unit for row in made.inputs}


def test_nothing_asked_is_nothing_planned() -> None:
    made = planned(house([], [mic("D-1")], [PER_CHANNEL]))
    assert (made.inputs, made.unfilled, made.solver.status) == ((), (), "nothing to plan")


def test_an_empty_house_leaves_everything_out_and_says_so() -> None:
    made = planned(Snapshot(needs=(mic_need(1), di_need(2), line_need(3)), pickups=(), preamps=()))
    assert [left.number for left in made.unfilled] == [1, 2, 3]


def test_records_that_make_no_sense_still_give_a_plan() -> None:
    rack = preamp("P-1", 2, Switching.PER_BANK, bank_size=0, phantom_supply_ma=-1.0)
    odd = house([mic_need(1, stand="trapeze"), di_need(2)], [di_box("B-1", inputs=0)], [rack], lines=-3)
    assert [left.number for left in planned(odd).unfilled] == [1, 2]


def test_one_unit_serves_one_input() -> None:
    made = planned(house([mic_need(1), mic_need(2)], [mic("D-1")], [PER_CHANNEL]))
    assert units(made) == {1: "D-1"}
    assert [left.number for left in made.unfilled] == [2]


def test_a_box_with_two_inputs_serves_two_inputs_on_two_channels() -> None:
    made = planned(house([di_need(1), di_need(2), di_need(3)], [di_box("B-1", inputs=2)], [PER_CHANNEL]))
    assert [(row.unit, row.unit_input, row.channel) for row in made.inputs] == [("B-1", 1, 1), ("B-1", 2, 2)]
    assert len(made.unfilled) == 1


def test_a_stereo_source_goes_into_one_box() -> None:
    boxes = [di_box("B-1"), di_box("C-1", inputs=2, model="Two"), di_box("B-2")]
    made = planned(house([di_need(1, pair=1), di_need(2, pair=1), di_need(3)], boxes, [PER_CHANNEL]))
    assert units(made)[1] == units(made)[2] or {units(made)[1], units(made)[2]} == {"B-1", "B-2"}


def test_a_kind_that_is_not_listed_is_never_used() -> None:
    made = planned(house([mic_need(1, "ribbon")], [mic("D-1")], [PER_CHANNEL]))
    assert made.inputs == ()


def test_any_di_will_do_the_listed_kind_first() -> None:
    boxes = [di_box("A-1", "active di"), di_box("P-1")]
    assert only(house([di_need(1, "passive di")], boxes, [PER_CHANNEL])).unit == "P-1"
    assert only(house([di_need(1, "passive di")], boxes[:1], [PER_CHANNEL])).unit == "A-1"


def test_a_stand_kind_runs_out() -> None:
    asked = [mic_need(1, stand="clip"), mic_need(2, stand="clip"), mic_need(3, stand="none"), mic_need(4)]
    made = planned(house(asked, [mic(f"D-{n}") for n in range(4)], [PER_CHANNEL], stands={"clip": 1}))
    assert [row.number for row in made.inputs] == [1, 3, 4]
    assert [row.stand for row in made.inputs] == ["clip", None, None]


@pytest.mark.parametrize("short", ["lines", "recorder_inputs"])
def test_each_input_takes_one_line_and_one_recorder_input(short: str) -> None:
    made = planned(house([line_need(1), line_need(2), line_need(3)], [], [], **{short: 2}))
    assert [(row.number, row.line, row.recorder_input) for row in made.inputs] == [(1, 1, 1), (2, 2, 2)]


def test_line_level_takes_no_channel() -> None:
    row = only(house([line_need(1)], [], []))
    assert (row.unit, row.preamp, row.channel, row.phantom) == (None, None, None, False)


def test_microphones_and_boxes_take_a_channel_each() -> None:
    one = preamp("P-1", 1, Switching.PER_CHANNEL)
    made = planned(house([mic_need(1), di_need(2), line_need(3)], [mic("D-1"), di_box("B-1")], [one]))
    assert len(made.inputs) == 2
    assert 3 in units(made)


# Phantom, by what the unit says and how far the switch reaches


def test_what_needs_phantom_gets_it_and_nothing_else_does() -> None:
    asked = [mic_need(1, "small condenser"), mic_need(2, "ribbon"), mic_need(3)]
    made = planned(
        house(asked, [mic("S-1", "small condenser"), mic("R-1", "ribbon"), mic("D-1")], [PER_CHANNEL])
    )
    assert [row.phantom for row in made.inputs] == [True, False, False]
    assert made.phantom_on == {("P-1", 1)}


@pytest.mark.parametrize("switching", [Switching.WHOLE_UNIT, Switching.PER_BANK])
def test_needs_and_must_not_never_share_a_switch(switching: Switching) -> None:
    rack = preamp("P-1", 4, switching, bank_size=4)
    asked = [mic_need(1, "small condenser", priority=1), mic_need(2, "ribbon")]
    made = planned(house(asked, [mic("S-1", "small condenser"), mic("R-1", "ribbon")], [rack]))
    assert units(made) == {1: "S-1"}


def test_two_banks_part_them() -> None:
    rack = preamp("P-1", 4, Switching.PER_BANK, bank_size=2)
    asked = [
        mic_need(1, "small condenser"),
        mic_need(2, "ribbon"),
        mic_need(3, "ribbon"),
        mic_need(4, "small condenser"),
    ]
    pairs = [
        mic("S-1", "small condenser"),
        mic("S-2", "small condenser"),
        mic("R-1", "ribbon"),
        mic("R-2", "ribbon"),
    ]
    made = planned(house(asked, pairs, [rack]))
    assert len(made.inputs) == 4
    assert len(made.phantom_on) == 1


def test_unknown_is_treated_as_must_not() -> None:
    unknown = mic("X-1", phantom=Phantom.UNKNOWN)
    always = preamp("P-1", 4, Switching.ALWAYS_ON)
    assert planned(house([mic_need(1)], [unknown], [always])).inputs == ()
    assert planned(house([mic_need(1)], [mic("D-1")], [always])).inputs[0].phantom


def test_a_unit_on_its_own_supply_needs_nothing_from_the_channel() -> None:
    valve = mic("V-1", "large condenser", own_supply=True)
    row = only(house([mic_need(1, "large condenser")], [valve], [preamp("P-1", 1, Switching.NONE)]))
    assert not row.phantom


def test_no_phantom_on_the_preamp_serves_no_condenser() -> None:
    none = preamp("P-1", 4, Switching.NONE)
    asked = [mic_need(1, "small condenser"), mic_need(2)]
    assert units(planned(house(asked, [mic("S-1", "small condenser"), mic("D-1")], [none]))) == {2: "D-1"}


def test_a_channel_whose_phantom_is_dead_serves_a_moving_coil_but_no_condenser() -> None:
    rack = preamp("P-1", 2, Switching.PER_CHANNEL, dead=(1,))
    asked = [mic_need(1, "small condenser"), mic_need(2)]
    made = planned(house(asked, [mic("S-1", "small condenser"), mic("D-1")], [rack]))
    assert {row.unit: row.channel for row in made.inputs} == {"S-1": 2, "D-1": 1}


def test_a_ribbon_does_not_trust_a_dead_channel_of_a_bank_that_is_on() -> None:
    """The switch of the bank counts, not what seems to arrive."""
    rack = preamp("P-1", 2, Switching.WHOLE_UNIT, dead=(1,))
    asked = [mic_need(1, "small condenser", priority=1), mic_need(2, "ribbon")]
    assert units(planned(house(asked, [mic("S-1", "small condenser"), mic("R-1", "ribbon")], [rack]))) == {
        1: "S-1"
    }


def test_the_phantom_supply_bounds_the_sum_of_the_currents() -> None:
    """Two of 4 mA fit 8 mA, three don't; a unit without a known current isn't counted."""
    rack = preamp("P-1", 8, Switching.PER_CHANNEL, phantom_supply_ma=8.0)
    hungry = [mic(f"S-{n}", "small condenser", current_ma=4.0) for n in range(3)]
    silent = mic("T-1", "small condenser")
    asked = [mic_need(n, "small condenser") for n in range(1, 5)]
    assert len(planned(house(asked, [*hungry, silent], [rack])).inputs) == 3


def test_what_does_not_mind_draws_only_where_it_is_live() -> None:
    fussy = mic("X-1", current_ma=4.0)
    always = preamp("P-1", 1, Switching.ALWAYS_ON, phantom_supply_ma=3.0)
    assert planned(house([mic_need(1)], [fussy], [always])).inputs == ()
    assert planned(
        house([mic_need(1)], [fussy], [preamp("P-1", 1, Switching.NONE, phantom_supply_ma=3.0)])
    ).inputs


def test_what_does_not_mind_counts_where_its_bank_is_on() -> None:
    """4 mA needs the switch on; 4 mA more that doesn't mind would overdraw 6 mA, so it goes further off."""
    near = preamp("P-1", 2, Switching.WHOLE_UNIT, phantom_supply_ma=6.0)
    far = preamp("P-2", 2, Switching.NONE, here=False)
    shelf = [mic("S-1", "small condenser", current_ma=4.0), mic("X-1", current_ma=4.0)]
    made = planned(house([mic_need(1, "small condenser"), mic_need(2)], shelf, [near, far]))
    assert [row.preamp for row in made.inputs] == ["P-1", "P-2"]


# Level, pad, wishes


@pytest.mark.parametrize(
    ("peak_db", "unit", "pad"), [(130.0, "S-1", False), (138.0, "S-1", True), (141.0, None, None)]
)
def test_the_pad_is_set_only_where_it_is_needed_and_enough(
    peak_db: float, unit: str | None, pad: bool | None
) -> None:
    padded = mic("S-1", "small condenser", max_spl_db=130.0, pad_db=10)
    made = planned(house([mic_need(1, "small condenser", peak_spl_db=peak_db)], [padded], [PER_CHANNEL]))
    assert [(row.unit, row.pad) for row in made.inputs] == ([(unit, pad)] if unit else [])


def test_a_binding_wish_is_met_or_the_input_stays_empty() -> None:
    asked = [mic_need(1, wish="model k", wish_binds=True), mic_need(2, wish="model z", wish_binds=True)]
    made = planned(house(asked, [mic("D-1"), mic("K-1"), mic("D-2")], [PER_CHANNEL]))
    assert units(made) == {1: "K-1"}
    assert "model z" in made.unfilled[0].reason


def test_a_wish_is_followed_where_it_can_be_and_beats_the_order_of_kinds() -> None:
    asked = [
        mic_need(1, "small condenser", "ribbon", wish="ribbon"),
        mic_need(2, "small condenser", wish="ribbon"),
    ]
    shelf = [mic("S-1", "small condenser"), mic("S-2", "small condenser"), mic("R-1", "ribbon")]
    assert units(planned(house(asked, shelf, [PER_CHANNEL]))) == {1: "R-1", 2: "S-1"}


# What is weighed


def test_lead_parts_come_first() -> None:
    asked = [mic_need(1, priority=3), mic_need(2, priority=2), mic_need(3, priority=1)]
    assert units(planned(house(asked, [mic("D-1"), mic("D-2")], [PER_CHANNEL]))) == {2: "D-1", 3: "D-2"}


def test_one_lead_part_outweighs_two_ordinary_ones() -> None:
    rack = preamp("P-1", 4, Switching.WHOLE_UNIT)
    asked = [mic_need(1, "ribbon"), mic_need(2, "ribbon"), mic_need(3, "small condenser", priority=1)]
    shelf = [mic("R-1", "ribbon"), mic("R-2", "ribbon"), mic("S-1", "small condenser")]
    assert units(planned(house(asked, shelf, [rack]))) == {3: "S-1"}


def test_a_first_choice_is_given_up_to_fill_one_more() -> None:
    asked = [mic_need(1, "ribbon", "moving coil"), mic_need(2, "ribbon")]
    assert units(planned(house(asked, [mic("R-1", "ribbon"), mic("D-1")], [PER_CHANNEL]))) == {
        1: "D-1",
        2: "R-1",
    }


def test_what_is_here_is_used_before_what_must_be_fetched() -> None:
    assert only(house([mic_need(1)], [mic("D-1", here=False), mic("K-1")], [PER_CHANNEL])).unit == "K-1"
    racks = [preamp("P-1", 4, Switching.PER_CHANNEL, here=False), preamp("P-2", 4, Switching.PER_CHANNEL)]
    assert only(house([mic_need(1)], [mic("D-1")], racks)).preamp == "P-2"


def test_a_pair_gets_one_model_on_neighbouring_channels() -> None:
    asked = [mic_need(1, pair=7), mic_need(2), mic_need(3, pair=7)]
    shelf = [mic("A-1"), mic("B-1"), mic("B-2")]
    made = planned(house(asked, shelf, [preamp("P-1", (1, 3, 4), Switching.PER_CHANNEL)]))
    rows = {row.number: row for row in made.inputs}
    assert (rows[1].unit, rows[3].unit) == ("B-1", "B-2")
    assert (rows[1].channel, rows[3].channel) == (3, 4)


def test_a_pair_may_straddle_two_banks() -> None:
    """Five channels in two banks of four: only 4 and 5 are left as neighbours."""
    rack = preamp("P-1", (2, 4, 5, 7), Switching.PER_BANK, bank_size=4)
    asked = [mic_need(1, pair=1), mic_need(2, pair=1)]
    made = planned(house(asked, [mic("D-1"), mic("D-2")], [rack]))
    assert [row.channel for row in made.inputs] == [4, 5]


def test_a_pair_that_cannot_be_kept_is_still_planned_and_says_so() -> None:
    asked = [mic_need(1, pair=1), mic_need(2, pair=1)]
    made = planned(house(asked, [mic("A-1"), mic("B-1")], [PER_CHANNEL]))
    assert len(made.inputs) == 2
    assert all(any("not of one model" in text.lower() for text in row.why) for row in made.inputs)


def test_a_small_list_stays_on_one_preamp_in_input_order() -> None:
    racks = [preamp(f"P-{n}", 4, Switching.PER_CHANNEL) for n in (1, 2, 3)]
    made = planned(house([mic_need(n) for n in range(1, 5)], [mic(f"D-{n}") for n in range(1, 5)], racks))
    assert [(row.preamp, row.channel, row.line) for row in made.inputs] == [
        ("P-1", n, n) for n in range(1, 5)
    ]


def test_no_more_phantom_switches_are_on_than_needed() -> None:
    rack = preamp("P-1", 8, Switching.PER_BANK, bank_size=4)
    asked = [mic_need(n, "small condenser") for n in (1, 2)] + [mic_need(n) for n in (3, 4, 5, 6)]
    shelf = [mic("S-1", "small condenser"), mic("S-2", "small condenser"), *(mic(f"D-{n}") for n in range(4))]
    assert len(planned(house(asked, shelf, [rack])).phantom_on) == 1


def test_suspects_and_the_costly_are_spared() -> None:
    shelf = [mic("D-1", limits=("crackles",)), mic("K-1", value=5000), mic("L-1", value=100)]
    assert only(house([mic_need(1)], shelf, [PER_CHANNEL])).unit == "L-1"
    assert only(house([mic_need(1)], shelf[:2], [PER_CHANNEL])).unit == "K-1"


def test_no_time_at_all_still_gives_an_honest_plan() -> None:
    snapshot = house([mic_need(1)], [mic("D-1")], [PER_CHANNEL])
    made = plan(snapshot, seconds=0.0)
    assert violations(snapshot, made) == []
    assert made.solver.status == "best found" or made.inputs
    assert made.inputs or "time" in made.unfilled[0].reason


def test_every_pickup_can_be_asked_for_in_one_list() -> None:
    made = planned(house([mic_need(1), di_need(2), line_need(3)], [mic("D-1"), di_box("B-1")], [PER_CHANNEL]))
    assert [row.pickup for row in made.inputs] == [Pickup.MIC, Pickup.DI, Pickup.LINE]


def test_a_dead_pattern_matters_only_to_what_wants_it() -> None:
    tube = mic("V-1", "large condenser", only_patterns=("cardioid",))
    rack = [preamp("P-1", 4, Switching.PER_CHANNEL)]
    voice = mic_need(1, "large condenser", patterns=("cardioid", "omni"))
    room = mic_need(1, "large condenser", patterns=("omni",))
    assert [row.unit for row in planned(house([voice], [tube], rack)).inputs] == ["V-1"]
    [left] = planned(house([room], [tube], rack)).unfilled
    assert "wants omni, and every free large condenser has lost that pattern" in left.reason


def test_what_is_not_yet_heard_is_used_only_where_nothing_else_is_left() -> None:
    back = mic("A-1", "large condenser", last_choice=True, limits=("back, not yet heard: dead",))
    other = mic("Z-9", "moving coil")
    rack = [preamp("P-1", 4, Switching.PER_CHANNEL)]
    likes = mic_need(1, "large condenser", "ribbon", "small condenser", "moving coil")
    assert [row.unit for row in planned(house([likes], [back, other], rack)).inputs] == ["Z-9"]
    [row] = planned(house([likes], [back], rack)).inputs
    assert "A-1 is the last that is left (back, not yet heard: dead)" in " ".join(row.why)


def test_a_noisy_channel_is_the_last_that_is_patched() -> None:
    channels = (PreampChannel(1, last_choice=True), PreampChannel(2), PreampChannel(3))
    rack = [PreampUnit("P-1", "Eight", channels, Switching.PER_CHANNEL)]
    units = [mic(f"M-{n}") for n in range(3)]
    used = [row.channel for row in planned(house([mic_need(1), mic_need(2)], units, rack)).inputs]
    assert used == [2, 3]
    assert len(plan(house([mic_need(n) for n in (1, 2, 3)], units, rack)).inputs) == 3


def noisy_rack(*others: PreampChannel) -> list[PreampUnit]:
    noisy = PreampChannel(1, noisy_above_db=40.0, limits=("noisy above 40 dB of gain",))
    return [PreampUnit("P-1", "Eight", (noisy, *others), Switching.PER_CHANNEL)]


def test_a_channel_that_is_noisy_above_a_gain_serves_only_what_needs_less() -> None:
    """60 dB at 94 dB SPL is 40 dB at 114, and 41 at 113."""
    unit = mic("M-1", gain_at_94_db=60.0)
    loud, soft = mic_need(1, peak_spl_db=114.0), mic_need(1, peak_spl_db=113.0)
    [row] = planned(house([loud], [unit], noisy_rack())).inputs
    assert "About 40 dB of gain will do for voice." in row.why
    [left] = planned(house([soft], [unit], noisy_rack())).unfilled
    assert (
        "M-1 is free, but it asks for 41 dB of gain, where every channel that is left is noisy" in left.reason
    )
    [row] = planned(house([soft], [unit], noisy_rack(PreampChannel(2)))).inputs
    assert row.channel == 2


def test_of_two_sources_the_louder_takes_the_noisy_channel() -> None:
    units = [mic(f"M-{n}", gain_at_94_db=60.0) for n in (1, 2)]
    needs = [mic_need(1, peak_spl_db=100.0), mic_need(2, peak_spl_db=125.0)]
    made = planned(house(needs, units, noisy_rack(PreampChannel(2))))
    assert {row.number: row.channel for row in made.inputs} == {1: 2, 2: 1}


def test_where_the_gain_is_not_known_a_noisy_channel_is_the_last_choice() -> None:
    for need, unit in (
        (mic_need(1, peak_spl_db=120.0), mic("M-1")),
        (mic_need(1), mic("M-1", gain_at_94_db=60.0)),
    ):
        [row] = planned(house([need], [unit], noisy_rack(PreampChannel(2)))).inputs
        assert row.channel == 2
        [row] = planned(house([need], [unit], noisy_rack())).inputs
        assert "How much gain it takes isn't known: the last channel that is left." in row.why
