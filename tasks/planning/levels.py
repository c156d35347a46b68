"""What is set on a unit for the level of its source: the pad, and the gain that its channel has to give.

The two halves of a pair are set alike: the pad for the louder of them, the gain for the quieter.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from tasks.planning.rules import Range, gain_wanted
from tasks.planning.snapshot import Need, Pickup, PickupUnit


class Peaks(NamedTuple):
    """dB SPL that an input is set for. quietest is None where a level isn't known."""

    loudest: float | None
    quietest: float | None


def pairs_of(needs: Sequence[Need]) -> tuple[tuple[int, int], ...]:
    """The places of the two halves of each stereo source that wants a microphone or a DI; an odd third stands alone."""
    halves: dict[int, list[int]] = defaultdict(list)
    for place, need in enumerate(needs):
        if need.pair is not None and need.pickup is not Pickup.LINE:
            halves[need.pair].append(place)
    twos = [(places[0], places[1]) for places in halves.values() if len(places) >= 2]
    return tuple(two for two in twos if needs[two[0]].pickup is needs[two[1]].pickup)


def peaks_of(needs: Sequence[Need]) -> dict[int, Peaks]:
    """By the number of the input."""
    found = {need.number: Peaks(need.peak_spl_db, need.peak_spl_db) for need in needs}
    for a, b in pairs_of(needs):
        one, other = needs[a], needs[b]
        both = [need.peak_spl_db for need in (one, other) if need.peak_spl_db is not None]
        found[one.number] = found[other.number] = Peaks(
            max(both, default=None), min(both) if len(both) == 2 else None
        )
    return found


def pads(peaks: Peaks, unit: PickupUnit) -> Iterator[bool]:
    """Whether the pad may be in, what is better first: out where the unit takes the level without it."""
    loud = peaks.loudest is not None and unit.max_spl_db is not None and peaks.loudest > unit.max_spl_db
    if not loud or unit.pad_db <= 0:
        yield False
    if unit.pad_db > 0:
        yield True


def gain_with(peaks: Peaks, unit: PickupUnit, pad: bool) -> float | None:
    """The gain in dB that the channel has to give; what a pad takes away has to be given again."""
    gain = gain_wanted(peaks.quietest, unit)
    return None if gain is None else gain + (max(0.0, unit.pad_db) if pad else 0.0)


def pad_within(peaks: Peaks, unit: PickupUnit, gains: Range) -> bool | None:
    """Whether the pad is in on a channel of this range; None where the gain lies outside it either way."""
    for pad in pads(peaks, unit):
        gain = gain_with(peaks, unit, pad)
        if gain is None or gains.holds(gain):
            return pad
    return None
