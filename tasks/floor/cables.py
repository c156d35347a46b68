"""How long a cable each input needs, from the wall box to its microphone. Pure; metres.

The rule (common practice, no single source): straight across the floor where nobody walks there, else along the wall
and in from it, as long as that isn't more than 4 m longer, else across the way and covered; up the stand; and 2 m of
slack, so that the stand can be moved without a longer cable.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import dist

from studio.floors.records import Area, Floor, Point, WallBox
from studio.floors.shapes import along_wall, apart, length, on_wall, sees

SLACK_M = 2.0
UP_THE_STAND_M = {"tall boom": 2.5, "straight": 1.7, "short boom": 1.0, "clip": 1.0}
FROM_THE_FLOOR_M = 1.0
"""Of what has no stand: a box on the floor, an instrument on its own legs."""
HALF_A_WAY_M = 0.45
THICK_WALL_M = 1.0
AT_A_DOOR_M = 0.05
MOST_ROUND_M = 4.0
"""How much longer by the wall may be before a cable rather crosses a way, covered."""
PAST_A_DOOR_M = 10.0
"""How much longer a way may be that spares a door."""
SOCKET = WallBox("door", (0, 0), 0, 0)

THE_RULE = (
    "straight across where nobody walks, else along the wall, or covered where that is much longer; up the stand; and "
    f"{SLACK_M:g} m of slack (common practice, no single source)"
)


@dataclass(frozen=True, slots=True)
class Run:
    """One cable on the floor: from the box, as it lies, to the source. metres: with stand and slack.

    by_wall: it goes round by the wall, since the straight way would cross where people walk. crosses: it crosses there
    nevertheless and has to be covered, since round by the wall would be much longer.
    """

    box: WallBox
    way: tuple[Point, ...]
    metres: float
    by_wall: bool
    crosses: bool = False


def run(
    area: Area,
    box: WallBox,
    at: Point,
    stand: str = "",
    ways: Iterable[Sequence[Point]] = (),
    start: Point | None = None,
) -> Run:
    """How a cable is laid. ways: where people walk, as lines of points; at: where the source stands.

    start: where it begins, if not at the box.
    """
    begin = start or box.at
    direct, around = [begin, at], _round(area, begin, at)
    reaches = sees(begin, at, area.outline)
    trips = any(_trips(begin, at, way) for way in ways)
    by_wall = not reaches or (trips and length(around) <= length(direct) + MOST_ROUND_M)
    lies = tuple(around if by_wall else direct)
    up = UP_THE_STAND_M.get(stand, FROM_THE_FLOOR_M)
    return Run(box, lies, round(length(lies) + up + SLACK_M, 1), by_wall, crosses=trips and not by_wall)


def _trips(box: Point, at: Point, way: Sequence[Point]) -> bool:
    """Whether a cable lies across where people walk, its last half metre at the box aside."""
    start = box
    if (far := dist(box, at)) > HALF_A_WAY_M:
        share = HALF_A_WAY_M / far
        start = box[0] + (at[0] - box[0]) * share, box[1] + (at[1] - box[1]) * share
    return any(apart(start, at, a, b) < HALF_A_WAY_M for a, b in pairwise(way))


def _round(area: Area, begin: Point, at: Point) -> list[Point]:
    """By the wall, the way on which fewer doors are passed, as long as that isn't much longer."""
    _, wall = on_wall(at, area.outline)
    found = [[begin, *way, at] for way in along_wall(begin, wall, area.outline)]
    return min(found, key=lambda way: length(way) + PAST_A_DOOR_M * _doors_passed(area, way))


def _doors_passed(area: Area, way: Sequence[Point]) -> int:
    legs = [(a, b) for a, b in pairwise(way) if a != b]
    return sum(any(apart(a, b, door.start, door.end) < AT_A_DOOR_M for a, b in legs) for door in area.doors)


def nearest_run(area: Area, at: Point, stand: str = "", ways: Iterable[Sequence[Point]] = ()) -> Run | None:
    """The shortest run to any box of the room; None where the room has none."""
    ways = list(ways)
    runs = [run(area, box, at, stand, ways) for box in area.boxes]
    return min(runs, key=lambda each: (each.metres, each.box.first), default=None)


def lines_by_nearness(floor: Floor, area_name: str, at: Point) -> list[int]:
    """The lines that end in the room of a source, those of the nearest box first: what to plan it on."""
    boxes = next(area.boxes for area in floor.areas if area.name == area_name)
    by_far = sorted(boxes, key=lambda box: (dist(box.at, at), box.first))
    return [line for box in by_far for line in range(box.first, box.last + 1)]


def through_a_door(area: Area, at: Point, other: Area, box: WallBox, stand: str = "") -> Run | None:
    """A cable to the box of the next room, through the nearest door that both rooms have; None without one."""
    found = []
    for door in area.doors:
        for same in other.doors:
            if dist(door.middle, same.middle) <= THICK_WALL_M:
                here, there = run(area, SOCKET, at, stand, start=door.middle), run(other, box, same.middle)
                metres = here.metres + there.metres - SLACK_M - FROM_THE_FLOOR_M
                found.append(Run(box, (*there.way, *here.way), round(metres, 1), by_wall=True))
    return min(found, key=lambda each: each.metres, default=None)


def passes_a_door(area: Area, found: Run) -> bool:
    """Whether it lies before a door, where somebody may trip over it."""
    return _doors_passed(area, found.way) > 0


def cable_lengths_m(
    floor: Floor,
    places: Mapping[int, tuple[str, Point]],
    stands: Mapping[int, str],
    ways: Mapping[str, Sequence[Sequence[Point]]],
) -> dict[int, float]:
    """Metres of cable by input number, to the nearest box of the room in which the source stands.

    places: by input number the room's name and the position; stands: by input number the kind of stand, left out
    for none; ways: by room where people walk. A room without a wall box gives no length: it isn't known.
    """
    areas = {area.name: area for area in floor.areas}
    found = {}
    for number, (name, at) in places.items():
        runs = nearest_run(areas[name], at, stands.get(number, ""), ways.get(name, ()))
        if runs is not None:
            found[number] = runs.metres
    return found
