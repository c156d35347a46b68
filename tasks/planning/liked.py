"""Preferences, and what an input has had, in the sentences that say why."""

from __future__ import annotations

from collections.abc import Iterator

from tasks.planning import words
from tasks.planning.costs import MOST_WANTED
from tasks.planning.rules import names_of, steps_down, wish_met
from tasks.planning.snapshot import Liking, Need, PickupUnit


def said(need: Need, unit: PickupUnit) -> Iterator[str]:
    """What is preferred for the input and whether it was had, the engineer's first."""
    if need.had and need.had == unit.tag:
        yield f"{unit.tag} is set up already" if need.set_up else f"{unit.tag} is what it has had until now"
    elif need.had and need.set_up:
        yield f"{need.had} was set up for it, but had to go elsewhere"
    for who, liking in (("the engineer", need.own), ("the house", need.house)):
        yield from _liked(who, liking, need, unit)


def _liked(who: str, liking: Liking, need: Need, unit: PickupUnit) -> Iterator[str]:
    steps, wanted = steps_down(liking, unit), [_named(name) for name in liking.wanted]
    if steps < len(wanted):
        after = f", after {words.listed(wanted[:steps])}" if steps else ""
        yield f"{who} prefers {wanted[steps]} for {need.source}{after}"
    elif wanted:
        verb = "is" if len(wanted) == 1 else "are"
        yield f"{words.listed(wanted)}, which {who} prefers, {verb} not to be had for it in this plan"
    if steps > MOST_WANTED:
        name = next(_named(name) for name in liking.never if name in names_of(unit))
        yield f"{who} never wants {name} here, but nothing else is left"


def _named(name: str) -> str:
    return words.kind(name)


def outweighed(need: Need, unit: PickupUnit, other: PickupUnit) -> str:
    """Why a preference, or what stands, puts the unit before the other; empty where that isn't it."""
    if need.had == unit.tag and need.set_up:
        return f"{unit.tag} is set up already"
    if unit.asked and not other.asked:
        return f"{unit.tag} was asked for by its tag"
    if need.wish.strip() and wish_met(need, unit) and not wish_met(need, other):
        return "it is not what was wished for"
    for who, liking in (("the engineer", need.own), ("the house", need.house)):
        ours, theirs = steps_down(liking, unit), steps_down(liking, other)
        if theirs > MOST_WANTED > ours:
            return f"{who} never wants it here"
        if theirs != ours:
            return f"{who} likes it less" if theirs > ours else ""
    return ""
