"""One input of a plan on another unit or another channel, everything else as it is.

What may be swapped in is decided by the checker alone, which shares no code with the planner: a substitute is
whatever breaks no rule that isn't broken already.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

from tasks.planning import words
from tasks.planning.carrying import cables_for, stands_for
from tasks.planning.checker import violations
from tasks.planning.costs import Costs
from tasks.planning.levels import Peaks, pad_within, pads, peaks_of
from tasks.planning.rules import ALL_GAINS, Feed, can_feed, feed_of, kind_rank, pick_cost, range_of, switch_of
from tasks.planning.snapshot import Need, PickupUnit, Plan, PlannedInput, PreampUnit, Snapshot, Switching

Spot = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Substitute:
    """A unit by its tag, or a channel as (preamp tag, number); why it would do, and the plan with it."""

    name: str
    why: str
    plan: Plan
    unit: str = ""
    spot: Spot | None = None


def swapped(snapshot: Snapshot, plan: Plan, number: int, *, unit: str = "", spot: Spot | None = None) -> Plan:
    """The plan with this unit, or this channel, on the input; phantom switches and pads set anew. Checks nothing.

    An input that has it already gets in exchange what this one had.
    """
    old = next(row for row in plan.inputs if row.number == number)
    inputs = {each.tag: each.inputs for each in snapshot.pickups}
    alone = inputs.get(unit, 1) <= 1
    rows = []
    for row in plan.inputs:
        if row.number == number:
            row = _moved(plan, row, unit, alone, spot)
        elif spot and (row.preamp, row.channel) == spot:
            row = replace(row, preamp=old.preamp, channel=old.channel)
        elif unit and alone and row.unit == unit:
            row = replace(row, unit=old.unit, unit_input=old.unit_input)
        rows.append(row)
    return settled(snapshot, replace(plan, inputs=tuple(rows)))


def settled(snapshot: Snapshot, plan: Plan) -> Plan:
    """Phantom is on just where a unit behind the switch needs it, pads are in just where the level asks for it.

    Stands and cables are those that the inputs take with these units, as far as there are any.
    """
    units = {unit.tag: unit for unit in snapshot.pickups}
    preamps = {preamp.tag: preamp for preamp in snapshot.preamps}
    needs = {need.number: need for need in snapshot.needs}
    on = frozenset(_switches_on(plan.inputs, units, preamps))
    peaks = peaks_of(sorted(snapshot.needs, key=lambda need: need.number))
    cables = cables_for(snapshot.cables, [needs[row.number] for row in plan.inputs if row.number in needs])
    rows = tuple(
        replace(
            row,
            phantom=_arrives(row, preamps, on),
            pad=_pad(row, peaks, units.get(row.unit or ""), preamps),
            cable=cables.get(row.number),
            patched=row.preamp in preamps and not preamps[row.preamp].here,
        )
        for row in plan.inputs
    )
    return replace(plan, inputs=_on_stands(snapshot, rows, needs, units), phantom_on=on)


def _on_stands(
    snapshot: Snapshot,
    rows: tuple[PlannedInput, ...],
    needs: dict[int, Need],
    units: dict[str, PickupUnit],
) -> tuple[PlannedInput, ...]:
    """Each on the wanted stand where that carries its unit, else on a stronger one, its own before another."""
    left = Counter(snapshot.stands)
    left.subtract(row.stand for row in rows if row.stand)
    settled_rows = []
    for row in rows:
        need, unit = needs.get(row.number), units.get(row.unit or "")
        kinds = stands_for(snapshot, need, unit) if need and unit else ()
        if kinds and row.stand not in kinds:
            stand = next((kind for kind in kinds if left[kind] > 0), kinds[0])
            left[stand] -= 1
            row = replace(row, stand=stand)
        settled_rows.append(row)
    return tuple(settled_rows)


def breaks(snapshot: Snapshot, before: Plan, after: Plan) -> list[str]:
    """Rules that the change breaks, in sentences; empty for one that may be made."""
    was = set(violations(snapshot, before))
    return [text for text in violations(snapshot, after) if text not in was]


def substitutes(
    snapshot: Snapshot, plan: Plan, number: int, costs: Costs | None = None
) -> Iterator[Substitute]:
    """Other units for the input, best first, then other channels, those of the same preamp first."""
    row = next(row for row in plan.inputs if row.number == number)
    need = next((need for need in snapshot.needs if need.number == number), None)
    if need is None:
        return
    weights = costs or Costs()
    taken = {other.unit for other in plan.inputs}
    units = [u for u in snapshot.pickups if u.tag not in taken and kind_rank(need, u) is not None]
    for unit in sorted(units, key=lambda u: (pick_cost(need, u, weights), u.tag)):
        made = swapped(snapshot, plan, number, unit=unit.tag)
        if not breaks(snapshot, plan, made):
            yield Substitute(unit.tag, _why_unit(need, unit, row), made, unit=unit.tag)
    yield from _channels(snapshot, plan, row)


def _channels(snapshot: Snapshot, plan: Plan, row: PlannedInput) -> Iterator[Substitute]:
    if row.preamp is None:
        return
    taken = {(other.preamp, other.channel) for other in plan.inputs}
    for preamp in sorted(snapshot.preamps, key=lambda p: (p.tag != row.preamp, not p.here, p.tag)):
        for channel in sorted(preamp.channels, key=lambda c: (c.last_choice, bool(c.limits), c.number)):
            spot = (preamp.tag, channel.number)
            if spot in taken:
                continue
            made = swapped(snapshot, plan, row.number, spot=spot)
            if not breaks(snapshot, plan, made):
                yield Substitute(
                    f"{preamp.tag} channel {channel.number}",
                    _why_channel(preamp, channel.limits, row),
                    made,
                    spot=spot,
                )


def _moved(plan: Plan, row: PlannedInput, unit: str, alone: bool, spot: Spot | None) -> PlannedInput:
    if unit and row.unit != unit:
        used = set() if alone else {other.unit_input for other in plan.inputs if other.unit == unit}
        return replace(row, unit=unit, unit_input=next(n for n in range(1, len(used) + 2) if n not in used))
    return replace(row, preamp=spot[0], channel=spot[1]) if spot else row


def _switches_on(
    rows: tuple[PlannedInput, ...], units: dict[str, PickupUnit], preamps: dict[str, PreampUnit]
) -> Iterator[Spot]:
    for row in rows:
        unit, preamp = units.get(row.unit or ""), preamps.get(row.preamp or "")
        if not (unit and preamp and row.channel and feed_of(unit) is Feed.ON):
            continue
        if preamp.switching not in (Switching.NONE, Switching.ALWAYS_ON):
            yield preamp.tag, switch_of(preamp, row.channel)


def _arrives(row: PlannedInput, preamps: dict[str, PreampUnit], on: frozenset[Spot]) -> bool:
    preamp = preamps.get(row.preamp or "")
    channel = next((c for c in preamp.channels if c.number == row.channel), None) if preamp else None
    if preamp is None or channel is None or not can_feed(preamp, channel):
        return False
    return preamp.switching is Switching.ALWAYS_ON or (preamp.tag, switch_of(preamp, channel.number)) in on


def _pad(
    row: PlannedInput, peaks: dict[int, Peaks], unit: PickupUnit | None, preamps: dict[str, PreampUnit]
) -> bool:
    """As it has to be for the level and for the channel; as for the level alone where no setting would do."""
    preamp = preamps.get(row.preamp or "")
    if unit is None or row.number not in peaks:
        return False
    channel = next((c for c in preamp.channels if c.number == row.channel), None) if preamp else None
    gains = range_of(preamp, channel) if preamp and channel else ALL_GAINS
    pad = pad_within(peaks[row.number], unit, gains)
    return next(pads(peaks[row.number], unit)) if pad is None else pad


def _why_unit(need: Need, unit: PickupUnit, row: PlannedInput) -> str:
    rank = kind_rank(need, unit) or 0
    liked = (
        f"{words.ordinal(rank)} choice for {need.source}"
        if unit.kind in need.kinds
        else f"serves {need.source}"
    )
    said = [f"{words.kind(unit.kind)}, {liked}", "in this room" if unit.here else "has to be fetched"]
    return ", ".join([*said, *(f"with a limit: {limit}" for limit in unit.limits)])


def _why_channel(preamp: PreampUnit, limits: tuple[str, ...], row: PlannedInput) -> str:
    same = "same rack, no other patch but this one" if preamp.tag == row.preamp else f"{preamp.model}"
    said = [same, *([] if preamp.here else ["has to be fetched"])]
    return ", ".join([*said, *(f"with a limit: {limit}" for limit in limits)])
