"""What makes a floor sound: sentences about what can't be so. Pure; metres."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from studio.floors.records import Fixed, Opening, Point, WallBox
from studio.floors.shapes import area_m2, crosses_itself, inside, to_wall

AT_THE_WALL_M = 0.5
LEAST_M2 = 1.0


def outline_faults(outline: Sequence[Point]) -> Iterator[str]:
    if len(outline) < 3:
        yield "A room has at least three corners: give one a line, in the order in which you walk round it."
    elif crossed := crosses_itself(outline):
        first, second = crossed
        yield (
            f"The wall after corner {first} meets the wall after corner {second}. Give the corners in the order "
            "in which you walk round the room, each one once."
        )
    elif area_m2(outline) < LEAST_M2:
        yield f"That is a room of {area_m2(outline):.2g} square metres. Give the corners in metres."


def box_faults(boxes: Sequence[WallBox], outline: Sequence[Point], lines: int) -> Iterator[str]:
    """lines: how many the room has, as the house says."""
    seen: dict[int, str] = {}
    for box in boxes:
        if not inside(box.at, outline) and to_wall(box.at, outline) > AT_THE_WALL_M:
            yield f"{box.name} is outside the outline. Correct its place or the outline."
        if box.last > lines:
            yield f"{box.name} goes up to line {box.last}, but the room has {lines}. Correct one of the two."
            continue
        twice = [number for number in range(box.first, box.last + 1) if number in seen]
        if twice:
            yield f"Line {twice[0]} stands at {seen[twice[0]]} and at {box.name}. Take it out of one."
        seen |= dict.fromkeys(range(box.first, box.last + 1), box.name)


def opening_faults(openings: Sequence[Opening], outline: Sequence[Point]) -> Iterator[str]:
    for each in openings:
        far = max(to_wall(each.start, outline), to_wall(each.end, outline))
        if far > AT_THE_WALL_M:
            yield f"{each.name} isn't in a wall: it is {far:.1f} m away from the nearest one. Correct its ends."


def fixed_faults(things: Sequence[Fixed], outline: Sequence[Point]) -> Iterator[str]:
    for each in things:
        x, y = each.corner
        corners = [(x, y), (x + each.width, y), (x, y + each.depth), (x + each.width, y + each.depth)]
        if not all(inside(corner, outline) or to_wall(corner, outline) < 0.05 for corner in corners):
            yield f"{each.name} stands partly outside the outline. Correct its place or its size."
