"""What a stand carries and how far a cable reaches: which kinds of a counted stock will do for one input."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from tasks.planning.rules import may_serve, stand_of
from tasks.planning.snapshot import CableKind, Need, Pickup, PickupUnit, Snapshot, StandFigures

A_GRAM_KG = 1e-6
NOTHING_KNOWN = StandFigures()


def carries(figures: StandFigures, weight_kg: float | None) -> bool:
    """False only where both figures are known and the unit is heavier."""
    return figures.load_kg is None or weight_kg is None or weight_kg <= figures.load_kg + A_GRAM_KG


def stronger(wanted: StandFigures, other: StandFigures, weight_kg: float) -> bool:
    """True where the other kind is known to carry it and to reach as far as the wanted one."""
    if other.load_kg is None or weight_kg > other.load_kg + A_GRAM_KG:
        return False
    return not wanted.reach_m or (other.reach_m is not None and other.reach_m >= wanted.reach_m)


def stands_for(snapshot: Snapshot, need: Need, unit: PickupUnit) -> tuple[str, ...]:
    """The kinds of stand that will do: the wanted one, or what is stronger where that doesn't carry the unit.

    Empty where nothing carries it; also where no stand is wanted, so ask `stand_of` first.
    """
    wanted = stand_of(need)
    if wanted is None:
        return ()
    figures = snapshot.stand_figures.get(wanted, NOTHING_KNOWN)
    if unit.weight_kg is None or carries(figures, unit.weight_kg):
        return (wanted,)
    others = snapshot.stand_figures
    return tuple(
        kind for kind in sorted(others) if kind != wanted and stronger(figures, others[kind], unit.weight_kg)
    )


def overburdened(snapshot: Snapshot, unit: PickupUnit) -> tuple[str, ...]:
    """The kinds of stand that don't carry the unit."""
    kinds = snapshot.stand_figures
    return tuple(kind for kind in sorted(kinds) if not carries(kinds[kind], unit.weight_kg))


def serves(snapshot: Snapshot, need: Need, unit: PickupUnit) -> bool:
    """True where the unit alone breaks no hard rule for this input, and some stand of the house carries it."""
    return may_serve(need, unit) and (stand_of(need) is None or bool(stands_for(snapshot, need, unit)))


# Cables

MICROPHONE_CABLE = re.compile(r"\bxlr|\bmicro(ph|f)|\bmikrof|\bmi[ck]\b|\bmicro\b", re.IGNORECASE)
OTHER_ENDS = re.compile(r"\bjack|\brca\b|cinch|speak|lautsprecher|\bdmx\b|\bmains\b", re.IGNORECASE)


def is_microphone_cable(name: str, ends: str) -> bool:
    """By its connectors where they are known, else by its name; an adaptor lead to another plug is none."""
    text = ends or name
    return bool(
        MICROPHONE_CABLE.search(text) or (ends and MICROPHONE_CABLE.search(name))
    ) and not OTHER_ENDS.search(text)


def wants_cable(need: Need) -> bool:
    """A line-level source brings its own lead."""
    return need.pickup is not Pickup.LINE


def reach_of(cable: CableKind) -> float:
    """Metres; 0 where the length isn't known, so that it serves only where any length will do."""
    return cable.length_m or 0.0


def length_classes(
    cables: Sequence[CableKind], needs: Sequence[Need], shared: bool = False
) -> Mapping[int, float]:
    """For the number of each input the length of the shortest kind that does; infinite where none is so long.

    Empty where there are so many that none can run short: then no input need be told from another for it. shared:
    others take of the same ones, so that they may.
    """
    lengths = sorted({reach_of(cable) for cable in cables if cable.count > 0})
    classes = {
        need.number: next((length for length in lengths if length >= (need.cable_m or 0.0)), float("inf"))
        for need in needs
        if wants_cable(need)
    }
    if not shared and all(
        sum(wanted >= length for wanted in classes.values()) <= at_least(cables, length)
        for length in set(classes.values())
    ):
        return {}
    return classes


def at_least(cables: Sequence[CableKind], length_m: float) -> int:
    """How many cables are at least so long."""
    return sum(max(0, cable.count) for cable in cables if reach_of(cable) >= length_m)


def cables_for(cables: Sequence[CableKind] | None, needs: Sequence[Need]) -> dict[int, str]:
    """For the number of each input the cable it takes: the shortest that does, the longest runs served first.

    Whatever serves a longer run serves a shorter one, so this order never leaves one without that could be served.
    """
    if cables is None:
        return {}
    left = [
        cable for kind in sorted(cables, key=lambda c: (reach_of(c), c.name)) for cable in [kind] * kind.count
    ]
    found = {}
    for need in sorted(filter(wants_cable, needs), key=lambda need: (-(need.cable_m or 0.0), need.number)):
        cable = next((cable for cable in left if reach_of(cable) >= (need.cable_m or 0.0)), None)
        if cable is not None:
            left.remove(cable)
            found[need.number] = cable.name
    return found
