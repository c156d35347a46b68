"""Stereo arrays: geometry against hand sums and published figures, words, and bad files."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tasks.catalogue import CatalogueError, load_catalogue
from tasks.catalogue.arrays import (
    PRESSURE_SHARE,
    Spot,
    StereoArray,
    channels,
    figures_in_words,
    hears,
    level_difference_db,
    pair_in_words,
    read_arrays,
    recording_half_angle_deg,
    set_up_words,
    spills,
    time_difference_ms,
)

PRACTICE = load_catalogue().arrays


def array(name: str) -> StereoArray:
    return PRACTICE.arrays[name]


def test_near_coincident_pairs_stand_as_published() -> None:
    """17 cm at 110° and 30 cm at 90°, coincident 90°: several published references on stereo techniques."""
    assert (array("near_17_110").spacing_cm, array("near_17_110").angle_deg) == (17, 110)
    assert (array("near_30_90").spacing_cm, array("near_30_90").angle_deg) == (30, 90)
    assert (array("coincident_90").spacing_cm, array("coincident_90").angle_deg) == (0, 90)


@pytest.mark.parametrize(
    ("pattern", "off_axis", "heard"),
    [
        ("omni", 180, 1.0),
        ("cardioid", 90, 0.5),
        ("cardioid", 180, 0.0),
        ("figure-of-eight", 90, 0.0),
        ("figure-of-eight", 180, -1.0),
        ("hypercardioid", 180, -0.5),
    ],
)
def test_patterns_hear_what_first_order_says(pattern: str, off_axis: float, heard: float) -> None:
    """Computed by hand: a + (1 − a)·cos φ."""
    assert hears(pattern, off_axis) == pytest.approx(heard)


def test_crossed_cardioids_differ_by_six_decibels_on_one_axis() -> None:
    """Computed by hand: on the left axis the right one is 90° off, half the amplitude, 6.02 dB; no time difference."""
    assert level_difference_db(array("coincident_90"), 45) == pytest.approx(6.02, abs=0.005)
    assert time_difference_ms(array("coincident_90"), 45) == 0


def test_a_source_abreast_of_17_cm_is_half_a_millisecond_late() -> None:
    """Computed by hand: 0.17 m / 343.2 m/s = 0.495 ms; at 30° half of it."""
    assert time_difference_ms(array("near_17_110"), 90) == pytest.approx(0.495, abs=0.001)
    assert time_difference_ms(array("near_17_110"), 30) == pytest.approx(0.248, abs=0.001)


def test_an_eight_in_the_middle_makes_mid_side_the_crossed_eights() -> None:
    """Computed by hand: cos θ ± sin θ = √2·cos(θ ∓ 45°), the two figures-of-eight crossed at 90°."""
    eight = replace(array("mid_side"), pattern="figure-of-eight")
    for angle in (-30, 0, 10, 30):
        crossed = level_difference_db(array("coincident_eights"), angle)
        assert level_difference_db(eight, angle) == pytest.approx(crossed, abs=1e-6)
    left, right = channels(eight, 45)
    assert left == pytest.approx(math.sqrt(2) / 2)
    assert right == pytest.approx(0)


@pytest.mark.parametrize(
    ("spacing", "angle", "published"),
    [
        (17, 110, 55),
        (12, 130, 55),
        (22, 80, 55),
        (30, 60, 55),
        (40, 40, 55),
        (12, 160, 45),
        (17, 140, 45),
        (22, 120, 45),
        (30, 90, 45),
        (40, 60, 45),
        (50, 40, 45),
    ],
)
def test_recording_angles_are_near_the_published_ones(spacing: int, angle: int, published: int) -> None:
    """M. Williams, AES convention paper 2072 (Paris 1984), cardioids: about 55° and a total of 90°, off graphs."""
    found = recording_half_angle_deg(replace(array("near_17_110"), spacing_cm=spacing, angle_deg=angle))
    assert found == pytest.approx(published, abs=6)


def test_spaced_omnis_fill_the_picture_where_time_alone_does() -> None:
    """Computed by hand from 1.12 ms (from memory): arcsin(1.12 ms · 343.2 m/s / 0.5 m) = 50.2°."""
    assert recording_half_angle_deg(array("spaced_50")) == pytest.approx(50.2, abs=0.2)
    assert recording_half_angle_deg(replace(array("spaced_50"), spacing_cm=10)) is None


@given(st.sampled_from(sorted(PRACTICE.arrays)), st.floats(0, 90))
def test_left_and_right_mirror_each_other(name: str, angle: float) -> None:
    level, mirrored = level_difference_db(array(name), angle), level_difference_db(array(name), -angle)
    assert level == pytest.approx(-mirrored, abs=1e-6) or math.isinf(level)
    assert time_difference_ms(array(name), angle) == pytest.approx(-time_difference_ms(array(name), -angle))


def test_three_to_one_is_worked_out_from_where_things_stand() -> None:
    """Source 30 cm from its microphone, the other at 90 cm: the rule as the Master Handbook of Acoustics states it.

    Level: 20·log10(3) = 9.54 dB; first null 343.2 / (2 · 0.6 m) = 286 Hz, computed by hand.
    """
    left = Spot("fiddle", (0, 0.3), (0, 0))
    right = Spot("guitar", (math.sqrt(0.81 - 0.09), 0.3), (math.sqrt(0.81 - 0.09), 0))
    first, second = spills((left, right))
    assert (first.source, first.microphone) == ("fiddle", "guitar")
    assert first.far_m == pytest.approx(0.9)
    assert first.keeps
    assert first.lower_db == pytest.approx(9.54, abs=0.01)
    assert first.first_null_hz == pytest.approx(286, abs=0.5)
    assert second.keeps
    nearer = spills((left, replace(right, microphone_m=(0.7, 0))))
    assert not nearer[0].keeps
    assert nearer[0].lower_db < 9.54


def test_words_can_be_set_up() -> None:
    assert set_up_words(array("near_17_110")) == "two small condensers, capsules 17 cm apart, opened to 110°"
    assert set_up_words(array("spaced_50"), "boundary").startswith("two boundary microphones as omnis")
    assert "about 55°" in figures_in_words(array("near_17_110"))
    assert "snare" in figures_in_words(array("overheads_spaced"))
    for each in PRACTICE.arrays.values():
        assert "{" not in set_up_words(each)
        assert each.evidence
        assert each.cautions
        assert each.pattern in PRESSURE_SHARE


def test_a_pair_is_said_once_on_its_left_half() -> None:
    said = pair_in_words(PRACTICE, "room_pair", "Room L", "large condenser")
    assert said[0] == "two large condensers, capsules 17 cm apart, opened to 110°"
    assert not pair_in_words(PRACTICE, "room_pair", "Room R")
    assert not pair_in_words(PRACTICE, "kick", "Kick L")


def test_every_source_that_the_house_miks_in_stereo_has_an_array() -> None:
    for source in load_catalogue().sources:
        if source.house_channels == 2 and source.house_pickup == "mic":
            assert source.id in PRACTICE.of_source, source.id


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"pattern": "square"}, "use one of omni"),
        ({"spacing_cm": -1}, "from 0 to 1000"),
        ({"colour": "red"}, "colour is missing or unknown"),
        ({"kind": "odd"}, "use one of spaced"),
    ],
)
def test_a_bad_array_is_refused_with_what_to_do(change: dict[str, object], words: str) -> None:
    good = {
        "id": "a", "name": "a", "kind": "spaced", "spacing_cm": 1, "angle_deg": 0, "pattern": "omni",
        "set_up": "{two}", "suits": "s", "cautions": [], "evidence": "e",
    }  # fmt: skip
    read_arrays([good], [{"array": "a", "sources": ["kick"]}], ["kick"])
    with pytest.raises(CatalogueError, match=words):
        read_arrays([good | change], [], [])
    with pytest.raises(CatalogueError, match="no source's id"):
        read_arrays([good], [{"array": "a", "sources": ["nothing"]}], ["kick"])
