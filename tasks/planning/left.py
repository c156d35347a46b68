"""What was agreed, and what is set up already, is left where it is patched, though the patch be longer for it.

By the order of concerns what an input has had outweighs a short patch. The model counts channels by kinds and can't
know who had which; so each input that still has its unit goes back to its channel here, wherever no rule is broken.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from tasks.planning.snapshot import Plan, Snapshot
from tasks.planning.steady import Had
from tasks.planning.swap import Spot, breaks, settled

Back = tuple[int, Spot]


def left_as_it_was(snapshot: Snapshot, made: Plan, before: Mapping[str, Had]) -> Plan:
    """before: by the label of the input. What is set up goes back first; lines are kept where before says them."""
    return _lines_kept(snapshot, _put_back(snapshot, made, _wanting(snapshot, made, before)), before)


def _wanting(snapshot: Snapshot, made: Plan, before: Mapping[str, Had]) -> list[Back]:
    """The inputs that have their unit still and another channel than they had, by number; set up ones first.

    A channel that has become a last choice is nobody's to go back to.
    """
    sound = {(p.tag, c.number) for p in snapshot.preamps for c in p.channels if not c.last_choice}
    found: list[tuple[bool, int, Spot]] = []
    for row in made.inputs:
        had = before.get(row.label)
        if (
            had
            and had.spot in sound
            and had.unit == (row.unit or "")
            and had.spot != (row.preamp, row.channel)
        ):
            found.append((not had.set_up, row.number, had.spot))
    return [(number, spot) for _, number, spot in sorted(found)]


def _put_back(snapshot: Snapshot, made: Plan, wanting: Sequence[Back]) -> Plan:
    """All at once where that breaks no rule, else each half by itself."""
    if not wanting:
        return made
    tried = _exchanged(snapshot, made, wanting)
    if not breaks(snapshot, made, tried):
        return tried
    if len(wanting) == 1:
        return made
    half = len(wanting) // 2
    return _put_back(snapshot, _put_back(snapshot, made, wanting[:half]), wanting[half:])


def _exchanged(snapshot: Snapshot, made: Plan, wanting: Sequence[Back]) -> Plan:
    """Each on the channel that it wants; whoever was there gets the one that it leaves."""
    spots = {row.number: (row.preamp, row.channel) for row in made.inputs}
    holders = {spot: number for number, spot in spots.items() if spot[0] is not None}
    for number, spot in wanting:
        old, other = spots[number], holders.get(spot)
        spots[number], holders[spot] = spot, number
        if other is None:
            holders.pop(old, None)
        elif other != number:
            spots[other], holders[old] = old, other
    rows = (replace(r, preamp=spots[r.number][0], channel=spots[r.number][1]) for r in made.inputs)
    return settled(snapshot, replace(made, inputs=tuple(rows)))


def _lines_kept(snapshot: Snapshot, made: Plan, before: Mapping[str, Had]) -> Plan:
    """The others get the lines and recorder inputs that are left, in order."""
    most = min(snapshot.lines, snapshot.recorder_inputs)
    kept = {row.number: place for row in made.inputs if (place := _place(before.get(row.label), most))}
    lines, inputs = ({each[n] for each in kept.values()} for n in (0, 1))
    if not kept or len(lines) < len(kept) or len(inputs) < len(kept):
        return made
    left = zip(
        (n for n in range(1, most + 1) if n not in lines),
        (n for n in range(1, most + 1) if n not in inputs),
        strict=False,
    )
    places = {row.number: kept.get(row.number) or next(left) for row in made.inputs}
    rows = (replace(r, line=places[r.number][0], recorder_input=places[r.number][1]) for r in made.inputs)
    moved = replace(made, inputs=tuple(rows))
    return made if breaks(snapshot, made, moved) else moved


def _place(had: Had | None, most: int) -> tuple[int, int] | None:
    """The line and the recorder input that it had, where they are to be kept and the room has them still."""
    if had is None or had.line is None or had.recorder_input is None:
        return None
    return (had.line, had.recorder_input) if max(had.line, had.recorder_input) <= most else None
