"""The gain to start with, and how it was worked out. Pure.

The expected peak of the source is brought to the house's peak level: full scale (dBu) less a margin. Nothing is said
where a figure is missing. It is where to begin, not where to stay: ears and meters decide.
"""

from __future__ import annotations

from dataclasses import dataclass

from studio.electrics import gain_db as gain_to
from studio.electrics import loading_db, microphone_dbu


@dataclass(frozen=True, slots=True)
class Input:
    """Figures of one input. None where not known; pad_db is 0 for a pad that is out.

    preamp_pad_db: of the preamp's own pad, taken in where its least gain is too much; 0 without one.
    """

    peak_spl_db: float | None
    sensitivity_mv_pa: float | None
    pad_db: float = 0
    source_ohm: float | None = None
    load_ohm: float | None = None
    least_gain_db: float = 0
    most_gain_db: float = 60
    step_db: float | None = None
    preamp_pad_db: float = 0


@dataclass(frozen=True, slots=True)
class Gain:
    """gain_db is what can be set; arithmetic says how it came about; short says by how much the preamp falls short."""

    gain_db: float
    arithmetic: tuple[str, ...]
    short_db: float = 0


def starting_gain(given: Input, full_scale_dbu: float, margin_db: float) -> Gain | None:
    """None where the level of the source or the sensitivity of the microphone isn't known."""
    if given.peak_spl_db is None or given.sensitivity_mv_pa is None or given.sensitivity_mv_pa <= 0:
        return None
    at_microphone = microphone_dbu(given.peak_spl_db, given.sensitivity_mv_pa, given.pad_db)
    wanted = full_scale_dbu - margin_db
    loaded = bool(given.source_ohm and given.load_ohm)
    exact = gain_to(at_microphone, wanted, given.source_ohm or 0, given.load_ohm or float("inf"))
    padded_there = exact < given.least_gain_db and given.preamp_pad_db > 0
    exact += given.preamp_pad_db if padded_there else 0
    within = min(max(exact, given.least_gain_db), given.most_gain_db)
    set_to = _stepped(within, given)
    padded = f", pad {given.pad_db:g} dB in" if given.pad_db else ""
    said = [
        f"peaks of {given.peak_spl_db:g} dB SPL on {given.sensitivity_mv_pa:g} mV/Pa{padded} "
        f"give {at_microphone:.1f} dBu",
    ]
    if loaded:
        cost = loading_db(given.source_ohm or 1, given.load_ohm or 1)
        said.append(f"{given.source_ohm:g} ohm into {given.load_ohm:g} ohm costs {-cost:.1f} dB")
    said.append(f"peaks are to reach {wanted:g} dBu, {margin_db:g} dB under full scale")
    if padded_there:
        said.append(
            f"the preamp's pad in, {given.preamp_pad_db:g} dB: it gives {given.least_gain_db:g} dB at least without"
        )
    said.append(f"{exact:.1f} dB of gain" + ("" if set_to == exact else f", set to {set_to:g} dB"))
    if exact < given.least_gain_db:
        said.append(
            f"less than the preamp's least gain: its peaks come {given.least_gain_db - exact:.1f} dB hotter"
        )
    short = max(0.0, exact - given.most_gain_db)
    if short:
        said.append(
            f"the preamp gives {given.most_gain_db:g} dB at most: {short:.1f} dB are left to make up later"
        )
    return Gain(set_to, tuple(said), round(short, 1))


def _stepped(gain: float, given: Input) -> float:
    """Down to the step below, so that it errs on the quiet side; whole decibels where the steps aren't known."""
    step = given.step_db if given.step_db and given.step_db > 0 else 1.0
    steps = int((gain - given.least_gain_db) / step + 1e-6)
    return round(given.least_gain_db + steps * step, 1)


def nearest_corner(wanted_hz: float, corners_hz: list[float]) -> float:
    """The preamp's corner nearest below the one that the catalogue suggests; 0 where all lie above.

    A corner above it would take something away.
    """
    if not wanted_hz or not corners_hz:
        return wanted_hz
    below = [corner for corner in corners_hz if corner <= wanted_hz]
    return max(below) if below else 0
