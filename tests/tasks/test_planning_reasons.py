"""What a plan says of itself: why each input is so, what is short, what would help. Invented gear."""

from __future__ import annotations

from hypothesis import given, settings

from tasks.planning.plan import plan
from tasks.planning.snapshot import Missing, Phantom, Snapshot, Switching, Unfilled
from tests.tasks.planning_houses import di_box, di_need, house, line_need, mic, mic_need, preamp, snapshots

EIGHT = preamp("P-1", 8, Switching.PER_CHANNEL)


def said(snapshot: Snapshot, number: int = 1) -> str:
    return "\n".join(next(row for row in plan(snapshot).inputs if row.number == number).why)


def left(snapshot: Snapshot) -> Unfilled:
    (unfilled,) = plan(snapshot).unfilled
    return unfilled


def test_the_first_choice_says_that_it_is_free_and_works() -> None:
    text = said(house([mic_need(1, "ribbon", "moving coil")], [mic("R-1", "ribbon"), mic("D-1")], [EIGHT]))
    assert "Ribbon is the first choice for voice; R-1 is free and works." in text
    assert "Runner-up: D-1 (moving coil), second choice." in text
    assert "Phantom off: R-1, a ribbon, must not have it." in text


def test_a_second_choice_says_where_the_first_one_is() -> None:
    asked = [mic_need(1, "ribbon", "moving coil"), mic_need(2, "ribbon", priority=1)]
    text = said(house(asked, [mic("R-1", "ribbon"), mic("D-1")], [EIGHT]))
    assert "Moving coil is the second choice for voice; D-1 is free and works." in text
    assert "Ribbon is not used: the only ribbon that fits is on input 2." in text


def test_a_second_choice_says_that_the_first_is_out() -> None:
    out = Missing("R-1", "ribbon", "is out for repair, back on Friday")
    text = said(house([mic_need(1, "ribbon", "moving coil")], [mic("D-1")], [EIGHT], missing=(out,)))
    assert "Ribbon is not used: no ribbon is free (R-1 is out for repair, back on Friday)." in text


def test_a_first_choice_that_no_channel_suits_says_so() -> None:
    asked = [mic_need(1, "small condenser", "moving coil")]
    dead = preamp("P-1", 1, Switching.PER_CHANNEL, dead=(1,))
    text = said(house(asked, [mic("S-1", "small condenser"), mic("D-1")], [dead]))
    assert "Small condenser is not used: S-1 is free, but no channel with working phantom is left." in text
    assert "Channel 1 has no phantom, fine for a moving coil." in text


def test_a_ribbon_names_the_channels_that_share_its_switch() -> None:
    rack = preamp("P-1", 8, Switching.PER_BANK, bank_size=4)
    text = said(house([mic_need(1, "ribbon")], [mic("R-1", "ribbon")], [rack]))
    assert "Phantom off for channels 1–4, which share one switch: R-1, a ribbon, must not have it." in text


def test_an_unknown_phantom_entry_says_so() -> None:
    text = said(house([mic_need(1)], [mic("D-1", phantom=Phantom.UNKNOWN)], [EIGHT]))
    assert "Phantom off: it is not known whether D-1 stands it." in text


def test_a_pad_comes_with_its_arithmetic() -> None:
    loud = [mic_need(1, peak_spl_db=138.0)]
    text = said(house(loud, [mic("D-1", max_spl_db=130.0, pad_db=10)], [EIGHT]))
    assert "Pad on: the source peaks at 138 dB, the unit takes 130 dB, and 140 dB with its pad." in text


def test_a_wish_says_whether_it_is_met_and_who_has_it() -> None:
    asked = [mic_need(1, wish="model k"), mic_need(2, wish="model k", wish_binds=True)]
    snapshot = house(asked, [mic("K-1"), mic("D-1")], [EIGHT])
    assert "The wish “model k” is not met: K-1 went to input 2." in said(snapshot, 1)
    assert "it meets the wish “model k”" in said(snapshot, 2)


def test_a_pair_says_that_it_is_one_or_why_it_is_not() -> None:
    asked = [mic_need(1, pair=1), mic_need(2, pair=1)]
    shelf = [mic("D-1"), mic("D-2")]
    assert "Pair with input 2: same model, neighbouring channels." in said(house(asked, shelf, [EIGHT]))
    apart = preamp("P-1", (1, 3), Switching.PER_CHANNEL)
    assert "Pair with input 2: same model, but not on a neighbouring channel" in said(
        house(asked, shelf, [apart])
    )


def test_a_fetched_unit_and_a_limit_are_named() -> None:
    text = said(house([mic_need(1)], [mic("D-1", here=False, limits=("rattles",))], [EIGHT]))
    assert "D-1 is free, with a limit: rattles." in text
    assert "D-1 is not in this room and has to be fetched." in text
    assert "No other model that is free would serve." in text


def test_line_level_says_that_nothing_is_needed() -> None:
    assert "no microphone, DI or preamp channel" in said(house([line_need(1)], [], []))


# What is short, and what would help, the cheapest first


def test_no_unit_of_the_kind_names_the_one_out_then_a_swap_then_a_hire() -> None:
    out = Missing("C-07", "small condenser", "is out for repair, back Friday")
    found = left(house([mic_need(1, "small condenser")], [mic("D-1")], [EIGHT], missing=(out,)))
    assert found.reason == "No small condenser is free (C-07 is out for repair, back Friday)."
    assert found.help == (
        "C-07 (small condenser) is out for repair, back Friday.",
        "Allow a moving coil for it: D-1 is free.",
        "Hire or borrow one small condenser for this session.",
    )


def test_no_stand_names_who_has_them_and_another_that_is_free() -> None:
    asked = [mic_need(1, stand="tall boom", priority=1), mic_need(2, stand="tall boom")]
    found = left(house(asked, [mic("D-1"), mic("D-2")], [EIGHT], stands={"tall boom": 1, "short boom": 2}))
    assert found.reason == "No tall boom stand is left: input 1 has the only one."
    assert found.help[0] == "Use a short boom stand if it reaches: 2 free."
    assert found.help[-1] == "Hire or borrow one tall boom stand for this session."


def test_no_line_and_no_recorder_input_are_told_apart() -> None:
    two = [line_need(1), line_need(2)]
    assert left(house(two, [], [], lines=1)).reason == "No line is left: input 1 has the only one."
    found = left(house(two, [], [], recorder_inputs=1))
    assert found.reason == "No recorder input is left: input 1 has the only one."
    assert found.help[0].startswith("Use fewer inputs: leaving out input 1 (source 1)")


def test_no_channel_with_working_phantom_is_told_from_no_channel_at_all() -> None:
    condenser = [mic("S-1", "small condenser")]
    dead = preamp("P-1", 2, Switching.PER_CHANNEL, dead=(1, 2))
    asked = [mic_need(1, "small condenser")]
    assert "no channel with working phantom is left" in left(house(asked, condenser, [dead])).reason
    out = Missing("P-1 channel 1", "preamp channel", "is on the bench until Monday")
    found = left(house(asked, condenser, [], missing=(out,)))
    assert found.reason.startswith("No preamp channel is left: none is free")
    assert found.help[0] == "P-1 channel 1 (preamp channel) is on the bench until Monday."


def test_what_is_short_for_every_kind_is_said_once() -> None:
    asked = [mic_need(1, priority=1), mic_need(2, "moving coil", "ribbon", peak_spl_db=140.0)]
    shelf = [mic("D-1"), mic("D-2"), mic("R-1", "ribbon", max_spl_db=130.0)]
    found = left(house(asked, shelf, [preamp("P-1", 1, Switching.PER_CHANNEL)]))
    assert found.reason == "No preamp channel is left: input 1 has the only one."


def test_no_channel_with_phantom_off_is_said_for_a_ribbon() -> None:
    found = left(
        house([mic_need(1, "ribbon")], [mic("R-1", "ribbon")], [preamp("P-1", 4, Switching.ALWAYS_ON)])
    )
    assert "R-1 is free, but it must not have phantom and no channel with phantom off is left" in found.reason


def test_too_little_current_is_said() -> None:
    weak = preamp("P-1", 8, Switching.PER_CHANNEL, phantom_supply_ma=3.0)
    hungry = mic("S-1", "small condenser", current_ma=4.0)
    assert "no current to spare" in left(house([mic_need(1, "small condenser")], [hungry], [weak])).reason


def test_too_loud_a_source_says_by_how_much() -> None:
    found = left(house([mic_need(1, peak_spl_db=150.0)], [mic("D-1", max_spl_db=140.0)], [EIGHT]))
    assert (
        found.reason
        == "The source peaks at 150 dB and no free moving coil takes more than 140 dB, pad included."
    )
    assert found.help[0] == "Place D-1 (moving coil) further off, where the peak is lower by 10 dB."


def test_a_binding_wish_that_is_not_met_says_so_and_what_would_do() -> None:
    found = left(house([mic_need(1, wish="model z", wish_binds=True)], [mic("D-1")], [EIGHT]))
    assert found.reason == "The wish “model z” binds and no moving coil meets it."
    assert found.help[0] == "Do without the wish “model z”: D-1 (moving coil) is free."


def test_no_kind_listed_asks_for_one() -> None:
    bare = Snapshot(needs=(mic_need(1),), pickups=(), preamps=(EIGHT,), lines=1, recorder_inputs=1)
    unlisted = house([type(bare.needs[0])(1, "kazoo", "kazoo", bare.needs[0].pickup)], [mic("D-1")], [EIGHT])
    found = left(unlisted)
    assert found.reason == "No kind of microphone is listed for kazoo."
    assert "Name a kind of microphone for kazoo." in found.help


def test_no_box_is_free() -> None:
    asked = [di_need(1, priority=1), di_need(2)]
    found = left(house(asked, [di_box("B-1")], [EIGHT]))
    assert found.reason == "The only passive DI that fits is on input 1."


@settings(max_examples=100, deadline=None)
@given(snapshots())
def test_each_sentence_is_one(snapshot: Snapshot) -> None:
    made = plan(snapshot)
    told = [t for row in made.inputs for t in row.why] + [
        t for u in made.unfilled for t in (u.reason, *u.help)
    ]
    assert all(t[0] == t[0].upper() and t.endswith(".") and "  " not in t and "None" not in t for t in told)
