"""Twos that belong together: units of one model that were matched with each other, and the two inputs of one box.

They are counted by the places of their unit groups, and keep their names: nothing else may stand in for one of them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from tasks.planning.snapshot import PickupUnit

Slot = tuple[PickupUnit, int]
"""A unit and the number of its input."""

Couples = dict[tuple[int, int], list[tuple[Slot, Slot]]]
"""By the places of the unit groups of both, the lower first."""


def couples_of(groups: Sequence[Sequence[PickupUnit]]) -> Couples:
    """Each slot is in one couple at most. Of three that were matched, two that are alike are kept together."""
    found: Couples = defaultdict(list)
    sets: dict[tuple[str, str], list[tuple[int, PickupUnit]]] = defaultdict(list)
    for place, units in enumerate(groups):
        for unit in units:
            for number in range(1, unit.inputs, 2):
                found[place, place].append(((unit, number), (unit, number + 1)))
            if unit.inputs == 1 and unit.matched:
                sets[unit.matched.casefold(), unit.model].append((place, unit))
    for members in sets.values():
        for (p, one), (q, other) in zip(members[::2], members[1::2], strict=False):
            found[p, q].append(((one, 1), (other, 1)))
    return dict(found)


def belong_together(one: PickupUnit, other: PickupUnit) -> bool:
    """True for the two inputs of one box, and for units of one model that share the word of their match."""
    shares = bool(one.matched) and one.matched.casefold() == other.matched.casefold()
    return one.tag == other.tag or (shares and one.model == other.model)
