"""Distances between sources and microphones: delay, comb filters, levels. Pure.

Speed of sound 343.2 m/s (dry air at 20 °C). Comb filters: Master Handbook of Acoustics, comb-filter chapter.
"""

from __future__ import annotations

import math

SPEED_M_S = 343.2
THREE_TO_ONE = 3.0


def speed_m_s(celsius: float) -> float:
    """Speed of sound in dry air: 331.3·√(1 + T/273.15)."""
    return 331.3 * math.sqrt(1 + celsius / 273.15)


def delay_ms(distance_m: float, speed: float = SPEED_M_S) -> float:
    return distance_m / speed * 1000


def first_null_hz(delay_in_ms: float) -> float:
    """Where two arrivals that far apart first cancel: 1 / (2t). The nulls repeat every 1/t."""
    return 1000 / (2 * delay_in_ms)


def first_null_of_path_hz(difference_m: float, speed: float = SPEED_M_S) -> float:
    return speed / (2 * difference_m)


def distance_db(ratio: float) -> float:
    """Level change in a free field when the distance grows by this ratio: −20·log10."""
    return -20 * math.log10(ratio)


def comb_db(lower_by_db: float) -> tuple[float, float]:
    """Peak and dip in dB of two coherent arrivals, the second this much lower."""
    second = 10 ** (-lower_by_db / 20)
    return 20 * math.log10(1 + second), 20 * math.log10(1 - second) if second < 1 else -math.inf


def keeps_three_to_one(near_m: float, far_m: float) -> bool:
    """Whether the other microphone is at least three times as far from the source. A warning, never a ban."""
    return far_m >= THREE_TO_ONE * near_m - 1e-9
