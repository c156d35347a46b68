"""A new plan that keeps what an earlier one agreed, wherever that costs nothing.

Units that are alike, and channels that are alike on one preamp, are interchangeable to the solver. To the assistant who
has them on stands and patched already they aren't: each input gets back the one that it had.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from tasks.planning.carrying import overburdened
from tasks.planning.costs import Costs
from tasks.planning.rules import draw_of, feed_of, may_serve, pick_cost, switch_of
from tasks.planning.snapshot import Need, PickupUnit, Plan, PlannedInput, PreampChannel, PreampUnit, Snapshot
from tasks.planning.swap import Spot, breaks, swapped


@dataclass(frozen=True, slots=True)
class Had:
    """What an input had in the earlier plan; empty and None for nothing. set_up: it stands and is patched already."""

    unit: str = ""
    spot: Spot | None = None
    line: int | None = None
    recorder_input: int | None = None
    set_up: bool = False


def steadied(snapshot: Snapshot, made: Plan, before: Mapping[str, Had], costs: Costs | None = None) -> Plan:
    """before: by the label of the input. Costs and what is filled stay as they are."""
    weights = costs or Costs()
    steady = made
    for number, unit, spot in _exchanges(snapshot, made, before, weights):
        steady = swapped(snapshot, steady, number, unit=unit, spot=spot)
    if not breaks(snapshot, made, steady):
        return steady
    steady = made
    for number, unit, spot in _exchanges(snapshot, made, before, weights):
        tried = swapped(snapshot, steady, number, unit=unit, spot=spot)
        steady = steady if breaks(snapshot, steady, tried) else tried
    return steady


def _exchanges(
    snapshot: Snapshot, made: Plan, before: Mapping[str, Had], costs: Costs
) -> Iterator[tuple[int, str, Spot | None]]:
    units = {unit.tag: unit for unit in snapshot.pickups}
    preamps = {preamp.tag: preamp for preamp in snapshot.preamps}
    needs = {need.number: need for need in snapshot.needs}
    paired = {need.number for need in snapshot.needs if need.pair is not None}
    for row in made.inputs:
        had = before.get(row.label)
        if had is None:
            continue
        old, new = units.get(had.unit), units.get(row.unit or "")
        if old and new and old != new:
            holder = next((other for other in made.inputs if other.unit == old.tag), None)
            free_to_pair = not paired & {row.number, holder.number if holder else row.number}
            wants, theirs = needs.get(row.number), needs.get(holder.number) if holder else None
            if _alike(old, new) or (
                wants and free_to_pair and _as_good(snapshot, wants, theirs, old, new, costs)
            ):
                yield row.number, had.unit, None
        if row.number not in paired and had.spot and _same_place(preamps, row, had.spot, made, paired):
            yield row.number, "", had.spot


def _alike(one: PickupUnit, other: PickupUnit) -> bool:
    """All that the planner knows of them is the same but for their tags and their value."""
    if max(one.inputs, other.inputs) > 1:
        return False
    return (
        replace(one, tag="", value=0) == replace(other, tag="", value=0)
        and one.value // 1000 == other.value // 1000
    )


def _as_good(
    snapshot: Snapshot, wants: Need, theirs: Need | None, old: PickupUnit, new: PickupUnit, costs: Costs
) -> bool:
    """Whether the exchange costs nothing: the input with the old unit, whoever holds that with the new one."""
    if max(old.inputs, new.inputs) > 1 or (feed_of(old), draw_of(old)) != (feed_of(new), draw_of(new)):
        return False
    if overburdened(snapshot, old) != overburdened(snapshot, new):
        return False
    if (old.gain_at_94_db is None) != (new.gain_at_94_db is None):
        return False
    if not may_serve(wants, old) or (theirs and not may_serve(theirs, new)):
        return False
    now = pick_cost(wants, new, costs) + (pick_cost(theirs, old, costs) if theirs else 0)
    then = pick_cost(wants, old, costs) + (pick_cost(theirs, new, costs) if theirs else 0)
    return then <= now


def _same_place(
    preamps: Mapping[str, PreampUnit], row: PlannedInput, spot: Spot, made: Plan, paired: set[int]
) -> bool:
    """Another channel of the same preamp, alike and on the same switch, that no half of a pair stands on."""
    preamp = preamps.get(row.preamp or "")
    if preamp is None or row.channel is None or spot[0] != row.preamp or spot[1] == row.channel:
        return False
    channels = {channel.number: channel for channel in preamp.channels}
    ours, theirs = channels.get(row.channel), channels.get(spot[1])
    if ours is None or theirs is None or not _alike_channels(preamp, ours, theirs):
        return False
    holder = next((r.number for r in made.inputs if (r.preamp, r.channel) == spot), None)
    return holder is None or holder not in paired


def _alike_channels(preamp: PreampUnit, one: PreampChannel, other: PreampChannel) -> bool:
    alone = replace(one, number=0) == replace(other, number=0)
    return alone and (
        preamp.bank_size <= 1 or switch_of(preamp, one.number) == switch_of(preamp, other.number)
    )
