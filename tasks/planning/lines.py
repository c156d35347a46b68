"""Which line each input comes in on: the one that it had, else the nearest that is free, in the order of the list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from tasks.planning.snapshot import Plan, PlannedInput


def on_near_lines(
    made: Plan, near: Mapping[int, Sequence[int]], had: Mapping[str, int | None], most: int
) -> Plan:
    """near: by input number the lines where it stands, the nearest first; had: by label; most: lines of the room.

    Who stands where no line ends takes the first that is left. Where nobody knows who stands where, all stays.
    """
    if not any(near.values()):
        return made
    lines: dict[int, int] = {}
    for row in made.inputs:
        kept = had.get(row.label)
        if kept is not None and 1 <= kept <= most and kept not in lines.values():
            lines[row.number] = kept
    for row in sorted(made.inputs, key=lambda row: (not near.get(row.number), row.number)):
        if row.number not in lines:
            lines[row.number] = _first_free(row, near.get(row.number, ()), lines, most)
    return replace(made, inputs=tuple(replace(row, line=lines[row.number]) for row in made.inputs))


def _first_free(row: PlannedInput, nearest_first: Sequence[int], lines: Mapping[int, int], most: int) -> int:
    taken = set(lines.values())
    wanted = [line for line in nearest_first if line <= most] + list(range(1, most + 1))
    return next((line for line in wanted if line not in taken), row.line)
