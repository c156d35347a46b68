"""Worked examples with their sources. IEC 61938:2018 was not at hand: its figures are as repeated by a
microphone maker's note and reference articles; “computed” is the named formula on those figures.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio import acoustics, electrics
from studio.electrics import P12, P24, P48, Phantom

P12L = Phantom("P12L", 12, 3300, 4)  # IEC 61938:2018 as summarised by one reference article
SP48 = Phantom("SP48", 48, 2200, 22)  # the same article
PREFERRED = Phantom("P48 with 6.81 kΩ", 48, 6810, 10)  # a 1 % series part; several reference articles
LOWEST = Phantom("P48 at its lower limit", 44, 6800, 10)
HIGHEST = Phantom("P48 at its upper limit", 52, 6800, 10)


# IEC 61938:2018, phantom table, as repeated by a microphone maker's note and reference articles.
@pytest.mark.parametrize(
    ("kind", "supply_v", "feed_ohm", "most_ma"),
    [(P48, 48, 6800, 10), (P24, 24, 1200, 10), (P12, 12, 680, 15)],
)
def test_the_figures_of_the_standard(kind: Phantom, supply_v: float, feed_ohm: float, most_ma: float) -> None:
    assert (kind.supply_v, kind.feed_ohm, kind.most_ma) == (supply_v, feed_ohm, most_ma)


# V = Vs − I·R/2 with those supplies and feed resistors; kind, mA, V.
LEFT = [
    (P48, 0, 48), (P48, 2, 41.2), (P48, 3, 37.8), (P48, 4, 34.4), (P48, 5, 31), (P48, 7, 24.2), (P48, 10, 14.0),
    (PREFERRED, 2, 41.19), (PREFERRED, 4, 34.38), (PREFERRED, 7, 24.165), (PREFERRED, 10, 13.95),
    (LOWEST, 4, 30.4), (LOWEST, 10, 10.0), (HIGHEST, 4, 38.4), (HIGHEST, 10, 18.0),
    (P24, 2, 22.8), (P24, 4, 21.6), (P24, 7, 19.8), (P24, 10, 18.0),
    (P12, 2, 11.32), (P12, 4, 10.64), (P12, 7, 9.62), (P12, 10, 8.6), (P12, 15, 6.9),
    (P12L, 2, 8.7), (P12L, 4, 5.4), (SP48, 4, 43.6), (SP48, 10, 37.0), (SP48, 22, 23.8),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "current_ma", "left_v"), LEFT)
def test_volts_left_at_the_microphone(kind: Phantom, current_ma: float, left_v: float) -> None:
    assert electrics.phantom_left_v(current_ma, kind) == pytest.approx(left_v, abs=0.005)


# Vs/(R/2) and Vs/R on the same figures.
SHORTED = [(P48, 14.12, 7.06), (HIGHEST, 15.29, 7.65), (P24, 40.0, 20.0), (P12, 35.29, 17.65),
           (P12L, 7.27, 3.64), (SP48, 43.64, 21.82)]  # fmt: skip


@pytest.mark.parametrize(("kind", "both_ma", "one_ma"), SHORTED)
def test_short_circuit_currents(kind: Phantom, both_ma: float, one_ma: float) -> None:
    assert electrics.phantom_short_ma(kind, 2) == pytest.approx(both_ma, abs=0.01)
    assert electrics.phantom_short_ma(kind, 1) == pytest.approx(one_ma, abs=0.01)


def test_a_shorted_p48_input_stays_below_15_milliamperes() -> None:
    assert electrics.phantom_short_ma(P48) < 15  # encyclopedia entry of a professional sound institute


# Vs²/(2R); a reference article prints 170, 240, about 100, 22 and 520 mW. 240 mW belongs to P24, not to P48.
@pytest.mark.parametrize(
    ("kind", "most_mw"), [(P48, 169.4), (P24, 240.0), (P12, 105.9), (P12L, 21.8), (SP48, 523.6)]
)
def test_greatest_power_of_a_matched_load(kind: Phantom, most_mw: float) -> None:
    assert electrics.phantom_most_mw(kind) == pytest.approx(most_mw, abs=0.1)


def test_a_matched_load_leaves_half_the_supply_and_the_limit_of_10_milliamperes_140_milliwatts() -> None:
    assert electrics.phantom_left_v(electrics.phantom_short_ma(P48) / 2) == pytest.approx(24.0, abs=0.01)
    assert electrics.phantom_left_v(10) * 10 == pytest.approx(140.0, abs=0.1)  # computed, 14 V at 10 mA


def test_what_a_bank_has_left_for_more_microphones() -> None:
    # Added by hand: 4 + 2 + 3.5 mA of the 24 mA of a bank; one more of 16 mA overdraws it by 1.5 mA.
    assert electrics.supply_left_ma(24, [4, 2, 3.5]) == pytest.approx(14.5)
    assert electrics.supply_left_ma(24, [4, 2, 3.5, 16]) == pytest.approx(-1.5)


def test_resistors_within_the_match_of_iec_61938_let_20_microamperes_differ() -> None:
    assert pytest.approx(27.2, abs=0.1) == electrics.RESISTOR_MATCH * P48.feed_ohm  # 0.4 % of 6.8 kΩ
    assert electrics.leg_difference_ua(10) == pytest.approx(19.96, abs=0.05)  # I·m/(2+m)


# 20·log10(Zl/(Zs+Zl)); the last is the worked example of a recording-trade magazine, June 2017 (prints −9.5).
LOADS = [
    (50, 1500, -0.285), (150, 300, -3.522), (150, 1200, -1.023), (150, 1500, -0.828), (200, 300, -4.437),
    (200, 1200, -1.339), (200, 1500, -1.087), (200, 2000, -0.828), (300, 300, -6.021), (300, 1200, -1.938),
    (600, 600, -6.021), (600, 10_000, -0.506), (200, 100, -9.542),
]  # fmt: skip


@pytest.mark.parametrize(("source_ohm", "load_ohm", "loss_db"), LOADS)
def test_loading(source_ohm: float, load_ohm: float, loss_db: float) -> None:
    assert electrics.loading_db(source_ohm, load_ohm) == pytest.approx(loss_db, abs=0.005)


# Difference of two rows above, computed.
@pytest.mark.parametrize(("source_ohm", "change_db"), [(150, -2.499), (200, -3.098)])
def test_switching_an_input_from_1200_to_300_ohm(source_ohm: float, change_db: float) -> None:
    assert electrics.switched_input_db(source_ohm, 1200, 300) == pytest.approx(change_db, abs=0.005)


def test_the_bridging_rule_of_ten_to_one_costs_less_than_one_db() -> None:
    assert electrics.loading_db(1, 10) == pytest.approx(-0.828, abs=0.005)  # two articles on impedance
    assert electrics.loading_db(1, 5) == pytest.approx(-1.584, abs=0.005)  # computed


# A published cable calculator's worked example prints 100 kHz and 12.4 kHz; the others are 1/(2πRC).
CORNERS = [
    (100, 152.4, 32 / 0.3048, 99.47e3), (8000, 1, 1600, 12.434e3), (200, 100, 100, 79.58e3),
    (200, 300, 100, 26.53e3), (10_000, 6, 100, 26.53e3),
]  # fmt: skip


@pytest.mark.parametrize(("source_ohm", "length_m", "pf_per_m", "corner_hz"), CORNERS)
def test_cable_corner(source_ohm: float, length_m: float, pf_per_m: float, corner_hz: float) -> None:
    assert electrics.cable_corner_hz(source_ohm, length_m, pf_per_m) == pytest.approx(corner_hz, rel=5e-4)


def test_cable_loss_at_20_khz() -> None:
    corner = electrics.cable_corner_hz(200, 100, 100)
    assert electrics.cable_loss_db(20_000, corner) == pytest.approx(-0.266, abs=0.001)  # computed
    assert electrics.cable_corner_hz(200, 397.9, 100) == pytest.approx(20_000, rel=5e-4)  # computed


def test_one_db_is_lost_at_half_the_corner_of_a_cable() -> None:
    # First order: 0.5088 of the corner; computed, a published calculator rounds it to one half.
    assert electrics.cable_loss_db(0.5088, 1) == pytest.approx(-1, abs=0.0005)


# 0 dBu 0.7746 V and +4 dBu 1.228 V: published. −10 dBV and 0 dBV: from memory (1 V).
@pytest.mark.parametrize(
    ("level_dbu", "level_v"),
    [(0, 0.7746), (4, 1.2277), (-7.782, 0.3162), (2.218, 1.0), (24, 12.277), (18, 6.153), (22, 9.752)],
)
def test_levels(level_dbu: float, level_v: float) -> None:
    assert electrics.volts(level_dbu) == pytest.approx(level_v, rel=5e-4)
    assert electrics.dbu(level_v) == pytest.approx(level_dbu, abs=0.005)


def test_professional_and_consumer_line_levels_lie_11_78_db_apart() -> None:
    assert 4 - electrics.dbu(10 ** (-10 / 20)) == pytest.approx(11.78, abs=0.01)  # 1 V recalled; computed


# EBU R68-2000: alignment is −18 dBFS, where alignment is 0 dBu and full scale +18 dBu. SMPTE RP 155: −20 dBFS
# where 0 VU is +4 dBu and full scale +24 dBu. Both second-hand; permitted maximum 9 dB above alignment and true
# peaks at worst 15 dB: text of R68. 22 dBu: a published desk manual.
@pytest.mark.parametrize(
    ("level_dbu", "full_scale_dbu", "level_dbfs"),
    [(0, 18, -18), (0 + 9, 18, -9), (0 + 15, 18, -3), (4, 24, -20), (4, 22, -18)],
)
def test_alignment_levels(level_dbu: float, full_scale_dbu: float, level_dbfs: float) -> None:
    assert electrics.dbfs(level_dbu, full_scale_dbu) == level_dbfs


def test_a_microphone_gives_its_sensitivity_at_94_db() -> None:
    # By definition: 94 dB SPL is 1 Pa (1 Pa re 20 µPa is 93.98 dB), so 20 mV/Pa gives 20 mV.
    assert electrics.volts(electrics.microphone_dbu(94, 20)) == pytest.approx(0.020)
    assert electrics.microphone_dbu(114, 20) - electrics.microphone_dbu(94, 20) == pytest.approx(20)
    assert electrics.microphone_dbu(94, 20, pad_db=10) == pytest.approx(electrics.microphone_dbu(84, 20))


def test_gain_brings_the_source_to_the_wanted_level_through_the_load() -> None:
    source = electrics.microphone_dbu(104, 2)
    gain = electrics.gain_db(source, 4, source_ohm=150, load_ohm=1200)
    assert source + electrics.loading_db(150, 1200) + gain == pytest.approx(4)
    assert electrics.gain_db(-40, 4) == 44


def test_headroom_against_what_a_microphone_takes() -> None:
    # Subtracted by hand: peaks of 140 dB SPL into 134 dB, and into 134 dB with a pad of 10 dB.
    assert electrics.headroom_db(140, 134) == -6
    assert electrics.headroom_db(140, 134, pad_db=10) == 4


# Threshold, input, ratio, output, gain reduction. The first four are published worked examples, the next six
# overshoot/ratio and (1 − 1/ratio)·overshoot, computed; the last two are below the threshold.
COMPRESSED = [
    (-20, -12, 4, -18, 6), (-20, -5, 4, -16.25, 11.25), (-20, -10, 4, -17.5, 7.5), (-12, -9, 3, -11, 2),
    (0, 6, 3, 2, 4), (0, 12, 3, 4, 8), (0, 6, 10, 0.6, 5.4), (0, 12, 10, 1.2, 10.8), (0, 6, 20, 0.3, 5.7),
    (0, 12, 20, 0.6, 11.4), (-20, -20, 4, -20, 0), (-20, -30, 20, -30, 0),
]  # fmt: skip


@pytest.mark.parametrize(("threshold", "level", "ratio", "out", "reduction"), COMPRESSED)
def test_compression(threshold: float, level: float, ratio: float, out: float, reduction: float) -> None:
    compressed = electrics.compressed_db(level, threshold, ratio)
    assert compressed == pytest.approx(out, abs=0.001)
    assert level - compressed == pytest.approx(reduction, abs=0.001)


def test_headphones_in_parallel() -> None:
    assert electrics.parallel_ohm([64, 64]) == 32  # two equal loads halve; circuit theory
    assert electrics.parallel_ohm([80, 80, 80, 80]) == 20
    for nothing in ([], [0.0]):
        with pytest.raises(ValueError, match="at least one"):
            electrics.parallel_ohm(nothing)


@given(st.lists(st.floats(1, 1e4), min_size=1, max_size=20))
def test_headphones_together_are_never_above_the_lowest_of_them(impedances: list[float]) -> None:
    assert electrics.parallel_ohm(impedances) <= min(impedances) + 1e-9


# 331.3·√(1+T/273.15): a published calculator's formula (prints 343.2 at 20 °C).
SPEEDS = [(0, 331.30), (10, 337.31), (15, 340.28), (20, 343.21), (25, 346.13), (30, 349.02)]


@pytest.mark.parametrize(("celsius", "speed"), SPEEDS)
def test_speed_of_sound(celsius: float, speed: float) -> None:
    assert acoustics.speed_m_s(celsius) == pytest.approx(speed, abs=0.01)


# An engineering reference table, whose own formula 20.05·√(273.16 + T) differs from ours by less than 0.2 m/s.
TABLE = [(0, 331.4), (5, 334.4), (10, 337.4), (15, 340.4), (20, 343.3), (25, 346.3), (30, 349.1)]


@pytest.mark.parametrize(("celsius", "speed"), TABLE)
def test_speed_of_sound_agrees_with_a_printed_table(celsius: float, speed: float) -> None:
    assert acoustics.speed_m_s(celsius) == pytest.approx(speed, abs=0.2)


ARRIVALS = [(0.3, 0.874), (1, 2.914), (3, 8.741), (4.5, 13.112), (10, 29.138), (0.3048, 0.888)]


@pytest.mark.parametrize(("distance_m", "delay"), ARRIVALS)
def test_arrival_times(distance_m: float, delay: float) -> None:
    assert acoustics.delay_ms(distance_m) == pytest.approx(delay, abs=0.001)  # computed at 343.2 m/s


# Master Handbook of Acoustics, comb-filter chapter, table of delays: 1/(2t).
@pytest.mark.parametrize(("delay", "null_hz"), [(0.1, 5000), (0.5, 1000), (1, 500), (5, 100), (10, 50)])
def test_first_comb_null(delay: float, null_hz: float) -> None:
    assert acoustics.first_null_hz(delay) == pytest.approx(null_hz)


PATHS = [(0.1, 1716.0), (0.25, 686.4), (0.3048, 562.99), (0.5, 343.2), (1.0, 171.6)]


@pytest.mark.parametrize(("difference_m", "null_hz"), PATHS)
def test_first_comb_null_of_a_path(difference_m: float, null_hz: float) -> None:
    assert acoustics.first_null_of_path_hz(difference_m) == pytest.approx(null_hz, abs=0.01)  # c/(2d)


# −20·log10(ratio), free-field law, from memory; three-to-one: the handbook says at least 9 dB below.
@pytest.mark.parametrize(("ratio", "change_db"), [(2, -6.02), (3, -9.54), (4, -12.04)])
def test_inverse_square(ratio: float, change_db: float) -> None:
    assert acoustics.distance_db(ratio) == pytest.approx(change_db, abs=0.005)


def test_a_level_falls_with_the_distance() -> None:
    # Free-field law, from memory: 94 dB at 1 m is 81.96 dB at 4 m.
    assert 94 + acoustics.distance_db(4) == pytest.approx(81.96, abs=0.01)


# Coherent sums 20·log10(1 ± 10^(−d/20)). The handbook's “1 dB or less at 9 dB” is not what the sum gives.
@pytest.mark.parametrize(
    ("lower_by", "peak", "dip"),
    [(9, 2.64, -3.81), (9.542, 2.50, -3.52), (10, 2.39, -3.30), (12, 1.95, -2.51), (20, 0.83, -0.92)],
)
def test_comb_filter_depth(lower_by: float, peak: float, dip: float) -> None:
    assert acoustics.comb_db(lower_by) == pytest.approx((peak, dip), abs=0.01)


def test_a_dip_of_one_db_takes_19_27_db_between_the_arrivals() -> None:
    assert acoustics.comb_db(19.27)[1] == pytest.approx(-1, abs=0.001)  # coherent sum; computed


def test_two_equal_arrivals_add_six_db_and_cancel_wholly() -> None:
    peak, dip = acoustics.comb_db(0)  # Master Handbook of Acoustics, comb-filter chapter
    assert peak == pytest.approx(6.02, abs=0.01)
    assert dip == -math.inf


def test_three_to_one_as_the_handbook_states_it() -> None:
    assert acoustics.keeps_three_to_one(0.30, 0.90)  # Master Handbook of Acoustics
    assert not acoustics.keeps_three_to_one(0.30, 0.89)


def test_a_continuous_load_of_80_per_cent_is_all_that_a_circuit_is_sized_for() -> None:
    """NFPA 70 (NEC 2023), 210.19(A)(1) and 210.20(A): 125 % of the continuous load, so 16 A of 20 A at 120 V."""
    assert electrics.circuit_share(1920, 120, 20) == pytest.approx(electrics.CONTINUOUS_SHARE)
    assert electrics.circuit_share(1840, 230, 16) == pytest.approx(0.5)
    with pytest.raises(ValueError, match="more than 0"):
        electrics.circuit_share(100, 230, 0)
