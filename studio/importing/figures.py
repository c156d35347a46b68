"""Figures of a kind of thing, where a column is for them: “1,2 kg”, “150 Ω”, “134 dB”. Pure.

What can't be read for sure is left out; the cell is kept as a remark in any case.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from studio.importing.amounts import Signs, to_decimal

FIGURE = re.compile(r"^\s*(\d+(?:[.,]\d+)?)\s*([^\d\s.,][^\d]*)?$")

UNITS: Mapping[str, Mapping[str, float]] = {
    "weight_g": {"g": 1, "gr": 1, "kg": 1000, "lb": 453.59237, "lbs": 453.59237},
    "power_w": {"w": 1, "watt": 1, "watts": 1, "kw": 1000},
    "impedance_ohm": {"ohm": 1, "ohms": 1, "ω": 1, "k": 1000, "kohm": 1000, "kω": 1000},
    "current_ma": {"ma": 1},
    "sensitivity_mv_pa": {"mv/pa": 1},
    "max_spl_db": {"db": 1, "db spl": 1, "dbspl": 1},
    "self_noise_dba": {"dba": 1, "db(a)": 1, "db a": 1, "db": 1},
    "length_m": {"m": 1, "mtr": 1, "cm": 0.01, "ft": 0.3048},
}
"""Field to units, with what one of them is in the field's own unit.

The pound is 0.45359237 kg and the foot 0.3048 m (international yard and pound agreement, 1959).
"""

BARE = {
    "power_w": "w",
    "impedance_ohm": "ohm",
    "current_ma": "ma",
    "sensitivity_mv_pa": "mv/pa",
    "max_spl_db": "db",
    "self_noise_dba": "db",
}
"""The unit of a bare figure whose heading names none. A weight or length without a unit isn't known."""

MOST = {
    "weight_g": 2_000_000.0,
    "power_w": 20_000.0,
    "impedance_ohm": 100_000.0,
    "current_ma": 100.0,
    "sensitivity_mv_pa": 200.0,
    "max_spl_db": 200.0,
    "self_noise_dba": 60.0,
    "length_m": 1000.0,
}
"""What is above is a slip, or something else than the heading says."""


def read_figure(field: str, cell: str, heading: str) -> float | None:
    """The figure in the field's own unit; None where figure or unit isn't sure."""
    match = FIGURE.match(cell)
    if match is None:
        return None
    number = to_decimal(match[1], Signs())
    unit = (match[2] or "").strip().rstrip(".").casefold() or unit_of(field, heading)
    factor = UNITS[field].get(unit)
    if number is None or factor is None:
        return None
    value = round(float(number) * factor, 6)
    return value if 0 < value <= MOST[field] else None


def unit_of(field: str, heading: str) -> str:
    """The unit that the heading names, as in “Gewicht (kg)”, else the usual one; empty where neither is sure."""
    said = [part for part in re.split(r"[\s()\[\],;:]+", heading.casefold()) if part in UNITS[field]]
    return said[-1] if said else BARE.get(field, "")


def length_in(name: str) -> float | None:
    """The length in m that a cable's name gives: “XLR 10 m”. None where there is none, or more than one."""
    found = re.findall(r"(?<![\w.,])(\d+(?:[.,]\d+)?)\s?m\b", name, re.IGNORECASE)
    return read_figure("length_m", found[0], "m") if len(found) == 1 else None
