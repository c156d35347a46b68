"""Read sources to inputs: kits into pieces, stereo into pairs, open numbers into the house's usual ones."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tasks.catalogue import load_catalogue
from tasks.catalogue.needs import needs
from tasks.planning.snapshot import Need, Pickup
from tasks.reading import read


def needed(text: str, toms: int = 2) -> tuple[Need, ...]:
    catalogue = load_catalogue()
    return needs(read(text, catalogue).sources, catalogue, toms)


def labels(text: str, toms: int = 2) -> list[str]:
    return [need.label for need in needed(text, toms)]


@pytest.mark.parametrize(
    ("toms", "pieces"),
    [
        (0, []),
        (1, ["Floor tom"]),
        (2, ["Rack tom", "Floor tom"]),
        (3, ["Rack tom 1", "Rack tom 2", "Floor tom"]),
        (4, ["Rack tom 1", "Rack tom 2", "Floor tom 1", "Floor tom 2"]),
    ],
)
def test_a_bare_kit_brings_kick_snare_hat_toms_overheads_and_room(toms: int, pieces: list[str]) -> None:
    """Common practice, no single source: what a drum kit with n toms drags behind it."""
    pairs = ["Overhead L", "Overhead R", "Drum room L", "Drum room R"]
    assert labels("drums", toms) == ["Kick", "Snare", "Hi-hat", *pieces, *pairs]


@pytest.mark.parametrize("channels", range(1, 13))
def test_a_kit_on_a_stated_number_of_channels_gets_just_that_many(channels: int) -> None:
    inputs = needed(f"drums ({channels} mics)")
    assert len(inputs) == channels
    assert len({need.label for need in inputs}) == channels


def test_four_microphones_on_a_kit_are_kick_snare_and_a_pair() -> None:
    assert labels("4 mics on the drums") == ["Kick", "Snare", "Overhead L", "Overhead R"]


def test_stereo_is_a_pair_that_shares_a_number() -> None:
    left, right = needed("keys stereo")
    assert (left.label, right.label) == ("Keys L", "Keys R")
    assert left.pair == right.pair == 1
    assert left.kinds == ("passive di", "active di")
    assert left.stand is None


def test_left_and_right_in_neighbouring_rows_are_one_pair() -> None:
    rows = needed("1 Kick\n2 OH L\n3 OH R\n4 Keys L\n5 Keys R")
    assert [(need.label, need.pair) for need in rows] == [
        ("Kick", None),
        ("Overhead L", 1),
        ("Overhead R", 1),
        ("Keys L", 2),
        ("Keys R", 2),
    ]


def test_a_box_and_a_microphone_are_two_inputs() -> None:
    box, microphone = needed("bass w/ DI + amp")
    assert (box.label, box.pickup) == ("Bass DI", Pickup.DI)
    assert (microphone.label, microphone.pickup) == ("Bass mic", Pickup.MIC)
    assert microphone.kinds[0] == "large moving-coil"


def test_top_and_bottom_in_and_out_are_different_sources() -> None:
    assert labels("snare top/bottom, kick in/out") == ["Snare top", "Snare bottom", "Kick in", "Kick out"]


def test_counts_are_numbered_and_written_numbers_kept() -> None:
    assert labels("2 violins, viola") == ["Violin 1", "Violin 2", "Viola"]
    assert labels("Tom 1\nTom 2\nTom 3") == ["Tom 1", "Tom 2", "Tom 3"]


def test_numbers_run_from_one_in_the_order_of_the_list() -> None:
    inputs = needed("drums, bass DI, 2 gtr, keys stereo, lead vox, 3 bvs, click")
    assert [need.number for need in inputs] == list(range(1, len(inputs) + 1))
    assert inputs[0].label == "Kick"
    assert inputs[-1].label == "Click"


@pytest.mark.parametrize(
    ("text", "least", "most"),
    [
        ("string quartet", 4, 4),
        ("choir (40 singers), piano", 4, 6),
        ("Violin I (8)\nViolin II (6)\nViola (4)\nCello (4)\nDouble bass (2)", 7, 9),
        ("narrator", 1, 1),
        ("2232/4331/str", 12, 30),
        ("10 cornets, 3 tenor horns, 2 baritones, 2 euphoniums, 3 trombones, 4 basses, percussion", 20, 30),
    ],
)
def test_ensembles_get_a_sensible_number_of_microphones(text: str, least: int, most: int) -> None:
    """One for four violins or violas and one for two cellos: a music-school leaflet; the rest is common practice."""
    assert least <= len(needed(text)) <= most


def test_a_quartet_has_two_violins_a_viola_and_a_cello() -> None:
    assert labels("string quartet") == ["Violin 1", "Violin 2", "Viola", "Cello"]


def test_wishes_and_priorities_come_along() -> None:
    kick, claps = needed("kick out - large condenser (must be a condenser)\nhand claps, if there's time")
    assert kick.wish == "large condenser"
    assert kick.wish_binds
    assert claps.priority == 3
    lead = needed("lead vox")[0]
    assert lead.priority == 1


def test_what_has_no_peak_level_has_no_microphone() -> None:
    for need in needed("drums, bass DI, acoustic, keys, lead vox, laptop, click, choir, talkback"):
        assert (need.peak_spl_db is not None) == (need.pickup is Pickup.MIC)
        assert need.kinds or need.pickup is Pickup.LINE


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.sampled_from([source.name for source in load_catalogue().sources]), max_size=8),
    st.integers(0, 6),
)
def test_any_list_of_known_names_gives_distinct_labels_and_whole_pairs(names: list[str], toms: int) -> None:
    inputs = needed("\n".join(names), toms)
    assert len({need.label for need in inputs}) == len(inputs)
    pairs = [need.pair for need in inputs if need.pair is not None]
    assert all(pairs.count(pair) == 2 for pair in pairs)
    assert [need.number for need in inputs] == list(range(1, len(inputs) + 1))
