"""What is set up already is left where it is patched, though the patch be longer for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from tasks.planning.snapshot import Plan, Snapshot
from tasks.planning.steady import Had
from tasks.planning.swap import breaks, swapped


def left_as_set_up(snapshot: Snapshot, made: Plan, before: Mapping[str, Had]) -> Plan:
    """before: by the label of the input. What is set up keeps its channel and its line wherever no rule speaks
    against it; the cost of a longer patch is never that of taking apart what stands.
    """
    return _lines_kept(snapshot, _left_patched(snapshot, made, before), before)


def _left_patched(snapshot: Snapshot, made: Plan, before: Mapping[str, Had]) -> Plan:
    """Back to its channel, unless that has become a last choice."""
    sound = {(p.tag, c.number) for p in snapshot.preamps for c in p.channels if not c.last_choice}
    for row in made.inputs:
        had = before.get(row.label)
        spot = had.spot if had and had.set_up and had.unit == (row.unit or "") else None
        now = next((r.preamp, r.channel) for r in made.inputs if r.number == row.number)
        if spot and spot != now and spot in sound:
            tried = swapped(snapshot, made, row.number, spot=spot)
            made = made if breaks(snapshot, made, tried) else tried
    return made


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
    """The line and the recorder input of what is set up, where the room has them still."""
    if had is None or not had.set_up or had.line is None or had.recorder_input is None:
        return None
    return (had.line, had.recorder_input) if max(had.line, had.recorder_input) <= most else None
