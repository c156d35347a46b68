"""Stereo arrays: their geometry, what they make of a source at an angle, and how to set them up. Pure.

Angles are degrees from straight ahead, to the left positive; spacing centimetres between the capsules. Level and time
are of the left channel before the right one, for a source far away compared with the spacing. Real microphones keep
their pattern in the middle frequencies only: the figures say where to begin, ears decide.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import permutations
from typing import Any

from studio import acoustics
from tasks.catalogue.errors import CatalogueError

FROM_AFAR = ("spaced", "coincident", "near-coincident", "mid-side")
KINDS = (*FROM_AFAR, "overhead", "split")
PRESSURE_SHARE = {
    "omni": 1.0,
    "wide cardioid": 0.7,
    "cardioid": 0.5,
    "supercardioid": 0.37,
    "hypercardioid": 0.25,
    "figure-of-eight": 0.0,
}
FULL_SHIFT_DB = 15.0
FULL_SHIFT_MS = 1.12
SMALLEST = 1e-6
ARRAY_KEYS = frozenset(
    {"id", "name", "kind", "spacing_cm", "angle_deg", "pattern", "set_up", "suits", "cautions", "evidence"}
)


@dataclass(frozen=True, slots=True)
class StereoArray:
    """Two microphones. angle_deg is between their axes; for mid-side the pattern is the middle microphone's."""

    id: str
    name: str
    kind: str
    spacing_cm: float
    angle_deg: float
    pattern: str
    set_up: str
    suits: str
    cautions: tuple[str, ...]
    evidence: str


@dataclass(frozen=True, slots=True)
class ArrayPractice:
    """arrays by id, and the usual one of a source by the source's id."""

    arrays: Mapping[str, StereoArray] = field(default_factory=dict)
    of_source: Mapping[str, StereoArray] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Spot:
    """A microphone at one source: both as (x, y) in metres on the floor plan."""

    name: str
    source_m: tuple[float, float]
    microphone_m: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Spill:
    """How a source arrives at another one's microphone. lower_db: below its own microphone; first_null_hz if summed."""

    source: str
    microphone: str
    near_m: float
    far_m: float
    keeps: bool
    lower_db: float
    first_null_hz: float


def read_arrays(
    arrays: Iterable[Mapping[str, Any]], uses: Iterable[Mapping[str, Any]], sources: Collection[str]
) -> ArrayPractice:
    """The [[array]] and [[use]] entries of the files. Raises CatalogueError, naming what to correct."""
    by_id: dict[str, StereoArray] = {}
    for entry in arrays:
        where = f"array {entry.get('id', 'no id')}"
        if entry.get("id") in by_id:
            raise CatalogueError(f"{where}: this id is used twice; rename one of the two.")
        by_id[str(entry.get("id"))] = _array(entry, where)
    of_source: dict[str, StereoArray] = {}
    for use in uses:
        where = f"use of the array {use.get('array')}"
        if use.get("array") not in by_id:
            raise CatalogueError(f"{where}: no array has this id; use one of {', '.join(by_id)}.")
        for source in use.get("sources", ()):
            if source not in sources or source in of_source:
                said = "has an array already" if source in of_source else "is no source's id"
                raise CatalogueError(f"{where}: {source} {said}; correct it.")
            of_source[source] = by_id[use["array"]]
    return ArrayPractice(by_id, of_source)


def _array(entry: Mapping[str, Any], where: str) -> StereoArray:
    wrong = sorted(ARRAY_KEYS ^ set(entry))
    if wrong:
        raise CatalogueError(
            f"{where}: {wrong[0]} is missing or unknown; give {', '.join(sorted(ARRAY_KEYS))}."
        )
    for key, known in (("kind", KINDS), ("pattern", tuple(PRESSURE_SHARE))):
        if entry[key] not in known:
            raise CatalogueError(f"{where}: {key} is {entry[key]!r}; use one of {', '.join(known)}.")
    for key, most in (("spacing_cm", 1000), ("angle_deg", 180)):
        if not isinstance(entry[key], int | float) or not 0 <= entry[key] <= most:
            raise CatalogueError(f"{where}: {key} is {entry[key]!r}; give a number from 0 to {most}.")
    return StereoArray(**{**entry, "cautions": tuple(entry["cautions"])})


def hears(pattern: str, off_axis_deg: float) -> float:
    """Sensitivity off the axis, 1 on it; below 0 where the polarity is turned. First-order patterns."""
    share = PRESSURE_SHARE[pattern]
    return share + (1 - share) * math.cos(math.radians(off_axis_deg))


def channels(array: StereoArray, source_deg: float) -> tuple[float, float]:
    """What the left and the right channel make of a source at an angle, as amplitudes."""
    if array.kind == "mid-side":
        middle, side = hears(array.pattern, source_deg), math.sin(math.radians(source_deg))
        return (middle + side) / 2, (middle - side) / 2
    half = array.angle_deg / 2
    return hears(array.pattern, source_deg - half), hears(array.pattern, source_deg + half)


def level_difference_db(array: StereoArray, source_deg: float) -> float:
    """Left over right; infinite where the right channel hears nothing."""
    left, right = (abs(amplitude) for amplitude in channels(array, source_deg))
    if right < SMALLEST or left < SMALLEST:
        return 0.0 if left < SMALLEST and right < SMALLEST else math.copysign(math.inf, left - right)
    return 20 * math.log10(left / right)


def time_difference_ms(array: StereoArray, source_deg: float) -> float:
    """How much sooner the left channel hears it: the spacing times the sine, at the speed of sound."""
    return acoustics.delay_ms(array.spacing_cm / 100 * math.sin(math.radians(source_deg)))


def recording_half_angle_deg(array: StereoArray) -> float | None:
    """Where a source reaches the loudspeaker: level and time together shift it fully. None where it never does.

    15 dB alone or 1.12 ms alone shift fully (from memory), and shares of the two add up; published curves agree
    within a few degrees.
    """
    for tenths in range(1, 901):
        angle = tenths / 10
        level = level_difference_db(array, angle) / FULL_SHIFT_DB
        time = time_difference_ms(array, angle) / FULL_SHIFT_MS
        if max(level, 0) + time >= 1 - SMALLEST:
            return angle
    return None


def set_up_words(array: StereoArray, kind: str = "small condenser") -> str:
    """What an assistant does: “two small condensers, capsules 17 cm apart, opened to 110°”."""
    noun = f"{kind} microphone" if kind == "boundary" else kind
    return array.set_up.format(
        two=f"two {noun}s",
        one=f"one {noun}",
        spacing_cm=f"{array.spacing_cm:g}",
        angle_deg=f"{array.angle_deg:g}",
    )


def figures_in_words(array: StereoArray, source_deg: float = 30) -> str:
    """Level, time and recording angle in one line; for arrays close to their source what the distances must keep."""
    if array.kind == "split":
        return "each at least three times as far from the other's half as from its own"
    if array.kind == "overhead":
        return "equal distances to the snare keep it in the middle and whole in mono"
    level, time = level_difference_db(array, source_deg), time_difference_ms(array, source_deg)
    said = [f"a source {source_deg:g}° to one side is there {level:.1f} dB louder and {time:.2f} ms sooner"]
    half = recording_half_angle_deg(array)
    if half is not None:
        said.append(f"it fills the picture at about {half:.0f}° to either side")
    return "; ".join(said)


def pair_in_words(
    practice: ArrayPractice, source_id: str, label: str, kind: str = "small condenser"
) -> tuple[str, ...]:
    """How the pair that an input begins is set up, what it does and what to mind; empty for any other input.

    Said once a pair, on its left half, whose label ends in “L”.
    """
    array = practice.of_source.get(source_id)
    if array is None or not label.endswith(" L"):
        return ()
    return (set_up_words(array, kind), f"{array.name}: {figures_in_words(array)}", *array.cautions)


def spills(spots: Sequence[Spot]) -> tuple[Spill, ...]:
    """Every source at every other one's microphone, with the three-to-one rule; a warning, never a ban."""
    return tuple(_spill(own, other) for own, other in permutations(spots, 2))


def _spill(own: Spot, other: Spot) -> Spill:
    near = math.dist(own.source_m, own.microphone_m)
    far = math.dist(own.source_m, other.microphone_m)
    apart = abs(far - near)
    return Spill(
        source=own.name,
        microphone=other.name,
        near_m=near,
        far_m=far,
        keeps=acoustics.keeps_three_to_one(near, far),
        lower_db=-acoustics.distance_db(far / near) if near > 0 and far > 0 else 0.0,
        first_null_hz=acoustics.first_null_of_path_hz(apart) if apart > 0 else math.inf,
    )
