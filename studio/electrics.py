"""Phantom, loading, level and headphone arithmetic: pure, each with its units in its name and its source.

The phantom figures are those of IEC 61938:2018 as repeated by reference articles (its text was not at hand).
Levels: 0 dBu is 0.7746 V (the root of 0.6). Sound pressure: 94 dB SPL is 1 Pa.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

ZERO_DBU_V = math.sqrt(0.6)
ONE_PASCAL_DB_SPL = 94.0


@dataclass(frozen=True, slots=True)
class Phantom:
    """A way of powering through the signal legs: supply volts, ohms in each leg, most current in mA."""

    name: str
    supply_v: float
    feed_ohm: float
    most_ma: float


P48 = Phantom("P48", 48, 6800, 10)
P24 = Phantom("P24", 24, 1200, 10)
P12 = Phantom("P12", 12, 680, 15)
RESISTOR_MATCH = 0.004


def phantom_left_v(current_ma: float, kind: Phantom = P48) -> float:
    """Volts left at the microphone: both legs share the current, so the feed is half of one resistor."""
    return kind.supply_v - current_ma / 1000 * kind.feed_ohm / 2


def phantom_short_ma(kind: Phantom = P48, legs: int = 2) -> float:
    """Current in mA with one leg or both shorted to the screen."""
    return kind.supply_v / (kind.feed_ohm / legs) * 1000


def phantom_most_mw(kind: Phantom = P48) -> float:
    """The greatest power in mW that a matched load could take, whatever the current limit says."""
    return kind.supply_v**2 / (2 * kind.feed_ohm) * 1000


def leg_difference_ua(current_ma: float, mismatch: float = RESISTOR_MATCH) -> float:
    """Difference of the leg currents in µA from feed resistors that differ by this share."""
    return current_ma * mismatch / (2 + mismatch) * 1000


def supply_left_ma(supply_ma: float, currents_ma: Iterable[float]) -> float:
    """What a preamp's phantom supply has left for more microphones; below 0 it is overdrawn."""
    return supply_ma - sum(currents_ma)


def loading_db(source_ohm: float, load_ohm: float) -> float:
    """Level across the load against an open circuit: 20·log10(Zl / (Zs + Zl)), never above 0."""
    return 20 * math.log10(load_ohm / (source_ohm + load_ohm))


def switched_input_db(source_ohm: float, from_ohm: float, to_ohm: float) -> float:
    """What switching an input impedance changes, in dB."""
    return loading_db(source_ohm, to_ohm) - loading_db(source_ohm, from_ohm)


def cable_corner_hz(source_ohm: float, length_m: float, pf_per_m: float = 100) -> float:
    """The −3 dB corner of a source into a cable's capacitance: 1 / (2πRC)."""
    return 1 / (2 * math.pi * source_ohm * length_m * pf_per_m * 1e-12)


def cable_loss_db(frequency_hz: float, corner_hz: float) -> float:
    """Loss of a first-order low-pass at a frequency, as a negative number."""
    return -10 * math.log10(1 + (frequency_hz / corner_hz) ** 2)


def dbu(volts: float) -> float:
    return 20 * math.log10(volts / ZERO_DBU_V)


def volts(level_dbu: float) -> float:
    return ZERO_DBU_V * 10 ** (level_dbu / 20)


def microphone_dbu(level_db_spl: float, sensitivity_mv_pa: float, pad_db: float = 0) -> float:
    """Open-circuit output of a microphone in dBu at this sound pressure level."""
    return dbu(sensitivity_mv_pa / 1000) + level_db_spl - ONE_PASCAL_DB_SPL - pad_db


def gain_db(source_dbu: float, wanted_dbu: float, source_ohm: float = 0, load_ohm: float = math.inf) -> float:
    """Gain that brings the source to the wanted level, with what the input's load costs made up for."""
    lost = 0.0 if math.isinf(load_ohm) or not source_ohm else loading_db(source_ohm, load_ohm)
    return wanted_dbu - source_dbu - lost


def headroom_db(level_db_spl: float, max_spl_db: float, pad_db: float = 0) -> float:
    """How far the loudest expected peak stays below what the microphone takes; below 0 it overloads."""
    return max_spl_db + pad_db - level_db_spl


def dbfs(level_dbu: float, full_scale_dbu: float) -> float:
    """Digital level of an analogue one, for a converter whose full scale is this many dBu."""
    return level_dbu - full_scale_dbu


def parallel_ohm(impedances_ohm: Iterable[float]) -> float:
    """Load of several headphones on one output. Raises ValueError for none or for an impedance of 0."""
    loads = list(impedances_ohm)
    if not loads or min(loads) <= 0:
        raise ValueError("A load needs at least one thing connected, each of more than 0 ohm.")
    return 1 / sum(1 / each for each in loads)


CONTINUOUS_SHARE = 0.8
"""What a circuit may carry for three hours and more: its conductors and breaker are sized for 125 % of such a load
(NFPA 70, National Electrical Code 2023, 210.19(A)(1) and 210.20(A)). Other countries have other rules."""


def circuit_share(power_w: float, mains_v: float, circuit_a: float) -> float:
    """Share of a circuit's volt-amperes that a load takes, its watts taken as volt-amperes. Raises ValueError at 0."""
    if mains_v <= 0 or circuit_a <= 0:
        raise ValueError("A circuit needs more than 0 V and 0 A.")
    return power_w / (mains_v * circuit_a)


def compressed_db(in_db: float, threshold_db: float, ratio: float) -> float:
    """Output of a compressor with a hard knee; below the threshold nothing changes."""
    return in_db if in_db <= threshold_db else threshold_db + (in_db - threshold_db) / ratio
