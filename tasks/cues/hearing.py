"""How loud for how long: daily noise exposure. Pure.

Directive 2003/10/EC, Article 3: lower action value 80 dB(A), upper 85, limit 87, each as LEX,8h; LEX,8h after ISO 1999:
L + 10·log10(t / 8 h). Local rules decide; hearing protection counts only against the limit.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import log10

LOWER_DB, UPPER_DB, LIMIT_DB = 80.0, 85.0, 87.0
DAY_H = 8.0


def daily_exposure_db(parts: Iterable[tuple[float, float]]) -> float:
    """LEX,8h in dB(A) of a day's parts, each a level in dB(A) with its hours. Raises ValueError for no time at all."""
    energy = sum(hours * 10 ** (level / 10) for level, hours in parts)
    if energy <= 0:
        raise ValueError("Exposure needs a level that lasts some time.")
    return 10 * log10(energy / DAY_H)


def level_db(exposure_db: float, hours: float) -> float:
    """The level in dB(A) that, kept up for so many hours, makes this daily exposure. Raises ValueError for no time."""
    if hours <= 0:
        raise ValueError("Exposure needs some time.")
    return exposure_db - 10 * log10(hours / DAY_H)


def hours_at(level: float, exposure_db: float = UPPER_DB) -> float:
    """How long a level may last until this daily exposure is reached."""
    return float(DAY_H * 10 ** ((exposure_db - level) / 10))


def headphone_level_db(sensitivity_db_mw: float, power_mw: float) -> float:
    """Sound pressure level of headphones at a power. Raises ValueError for no power."""
    if power_mw <= 0:
        raise ValueError("A level needs some power.")
    return sensitivity_db_mw + 10 * log10(power_mw)
