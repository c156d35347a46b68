"""Where to begin with an insert's knobs: only those that the unit has. Common practice, no single source."""

from __future__ import annotations

from collections.abc import Iterator
from math import log2

from tasks.planning.chain_records import (
    AUTOMATIC,
    EQUALISER,
    FIXED,
    LIMITER,
    VARIABLE,
    InsertUnit,
    InsertWish,
    Way,
)

LIMITS_FROM = 10.0
"""From about 10 to 1 on, one feels that it limits."""
QUARTERS = {0.25: "a quarter", 0.5: "half", 0.75: "three quarters"}


def ratio_of(wish: InsertWish, unit: InsertUnit) -> float | None:
    """Its ratio nearest to the wanted one, of those that compress or those that limit; None where none is known."""
    fit = [ratio for ratio in unit.ratios if (ratio >= LIMITS_FROM) == (wish.kind == LIMITER)]
    if not fit:
        return None
    wanted = wish.ratio or (min(fit) if wish.kind == LIMITER else max(fit))
    return min(fit, key=lambda ratio: (round(abs(log2(ratio / wanted)), 6), ratio))


def settings_of(wish: InsertWish, unit: InsertUnit, paired: bool) -> tuple[tuple[str, str], ...]:
    """Control and value, in the order in which they are set."""
    knobs = _equaliser(wish, unit) if wish.kind == EQUALISER else _dynamics(wish, unit)
    both = [("Stereo", "linked, both channels alike")] if paired else []
    return (*knobs, *both)


def _equaliser(wish: InsertWish, unit: InsertUnit) -> Iterator[tuple[str, str]]:
    if not wish.lift_db:
        yield "All bands", "flat to begin with"
        return
    where = f", the top one of {unit.bands} bands" if unit.bands > 1 else ""
    yield "Lift", f"{_span(wish.lift_db)} dB near {wish.lift_hz / 1000:g} kHz{where}"
    if unit.bands > 1:
        yield "Other bands", "flat"


def _dynamics(wish: InsertWish, unit: InsertUnit) -> Iterator[tuple[str, str]]:
    ratio = ratio_of(wish, unit)
    if ratio is not None:
        only = ", its only one" if len(unit.ratios) == 1 else ""
        yield "Ratio", f"{ratio:g} to 1{only}"
    if AUTOMATIC in (wish.attack, wish.release) and unit.automatic:
        yield "Timing", "automatic"
    for name, way, steps in (
        ("Attack", wish.attack, unit.attack_ms),
        ("Release", wish.release, unit.release_ms),
    ):
        if said := _time(way, steps):
            yield name, said
    if wish.reduction_db:
        yield "Reduction", f"{_span(wish.reduction_db)} dB on the needle where it is loud"
    elif wish.kind == LIMITER:
        yield "Reduction", "0 dB between peaks"
    goal = "the needle shows that" if wish.reduction_db else "it catches only peaks"
    if unit.threshold == FIXED:
        yield "Input", f"up until {goal}"
        yield "Output", "down to the level without it"
    elif unit.threshold == VARIABLE:
        yield "Threshold", f"down until {goal}"


def _time(way: Way, steps: tuple[float, ...]) -> str:
    """Of several steps the one nearest to the way; of two ends, the way between them in words."""
    if not isinstance(way, int | float) or not steps:
        return ""
    slow_first = sorted(steps, reverse=True)
    if len(slow_first) == 1 or way in (0, 1):
        return f"{slow_first[0 if way == 0 else -1]:g} ms{', fastest' if way == 1 else ''}"
    if len(slow_first) == 2:
        how = QUARTERS.get(way, f"{way:.0%}")
        return f"{how} of the way from {slow_first[0]:g} ms to the fastest, {slow_first[1]:g} ms"
    return f"{slow_first[int(way * (len(slow_first) - 1) + 0.5)]:g} ms"


def _span(both: tuple[float, float]) -> str:
    low, high = both
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"
