"""The ways that are kept clear: from each door to the middle of the room. Pure; metres."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from math import dist, inf, sqrt

from studio.floors.records import Area, Point
from studio.floors.shapes import area_m2, bounds, holds, inside, sees, to_segment, to_thing, to_wall, to_way

HALF_M = 0.45
"""Half of a way that one person walks with something in both hands. Common practice; local fire rules decide."""
AT_A_DOOR_M = 0.9
SMALL_M2 = 12
"""A room below this is its own way: only the door itself is kept clear."""
MOST_SPOTS = 320
ROUNDED = 1e-6


@lru_cache(maxsize=64)
def spots(area: Area) -> tuple[Point, ...]:
    """A grid over the room, coarser where it is large: about MOST_SPOTS points at most."""
    step = max(0.25, sqrt(area_m2(area.outline) / MOST_SPOTS))
    left, top, right, bottom = bounds(area.outline)
    found = []
    for row in range(int((bottom - top) / step) + 1):
        for column in range(int((right - left) / step) + 1):
            at = round(left + (column + 0.5) * step, 2), round(top + (row + 0.5) * step, 2)
            if inside(at, area.outline):
                found.append(at)
    return tuple(found)


@lru_cache(maxsize=64)
def hub(area: Area) -> Point:
    """The point with most room around it; of several, the one nearest to the middle."""
    left, top, right, bottom = bounds(area.outline)
    middle = (left + right) / 2, (top + bottom) / 2
    if not spots(area):
        return middle

    def room_around(at: Point) -> float:
        return min([to_wall(at, area.outline), *(to_thing(at, each) for each in area.fixed)])

    return max(spots(area), key=lambda at: (round(room_around(at), 1), -dist(at, middle)))


@lru_cache(maxsize=64)
def ways(area: Area) -> tuple[tuple[Point, ...], ...]:
    """One for each door; none in a small room, or where there is no way through."""
    if area_m2(area.outline) < SMALL_M2:
        return ()
    found = []
    for door in area.doors:
        if way := _way(area, door.middle, hub(area)):
            found.append(way)
    return tuple(found)


def _way(area: Area, start: Point, end: Point) -> tuple[Point, ...]:
    """Straight where one can walk straight, else from grid point to grid point."""
    if _walkable(area, start, end):
        return start, end
    grid = [at for at in spots(area) if _free(area, at)]
    if not grid:
        return ()
    first = min(grid, key=lambda at: dist(at, start))
    last = min(grid, key=lambda at: dist(at, end))
    return _straightened(area, [start, *_through(grid, first, last), end])


def _free(area: Area, at: Point) -> bool:
    return holds(area.outline, at, HALF_M) and all(to_thing(at, each) >= HALF_M for each in area.fixed)


def _walkable(area: Area, start: Point, end: Point) -> bool:
    if not sees(start, end, area.outline):
        return False
    steps = max(2, int(dist(start, end) / 0.25))
    between = [
        (start[0] + (end[0] - start[0]) * n / steps, start[1] + (end[1] - start[1]) * n / steps)
        for n in range(steps + 1)
    ]
    return all(to_thing(at, each) >= HALF_M for at in between for each in area.fixed)


def _through(grid: list[Point], first: Point, last: Point) -> list[Point]:
    """The fewest steps through the grid; empty where there is no way."""
    step = min((dist(first, at) for at in grid if at != first), default=0) * 1.5
    came: dict[Point, Point | None] = {first: None}
    ahead = deque([first])
    while ahead and last not in came:
        here = ahead.popleft()
        for at in grid:
            if at not in came and dist(here, at) <= step:
                came[at] = here
                ahead.append(at)
    return list(_back(came, last))[::-1] if last in came else []


def _back(came: dict[Point, Point | None], at: Point | None) -> Iterator[Point]:
    while at is not None:
        yield at
        at = came[at]


def _straightened(area: Area, way: list[Point]) -> tuple[Point, ...]:
    """Without the points in between that one can walk past."""
    kept = [way[0]]
    while kept[-1] != way[-1]:
        start = way.index(kept[-1])
        ahead = [at for at in way[start + 1 :] if _walkable(area, kept[-1], at)]
        kept.append(ahead[-1] if ahead else way[start + 1])
    return tuple(kept)


@dataclass(frozen=True, slots=True)
class Spot:
    """A point of the grid with how far the wall, the middle, a door, a way and a fixed thing are; m."""

    at: Point
    wall: float
    middle: float
    door: float
    way: float
    thing: float


@lru_cache(maxsize=64)
def measured(area: Area) -> tuple[Spot, ...]:
    """Reckoned once for a room, however many sessions are in it."""
    return tuple(spot(area, at) for at in spots(area))


def spot(area: Area, at: Point) -> Spot:
    return Spot(
        at=at,
        wall=to_wall(at, area.outline),
        middle=dist(at, hub(area)),
        door=min((to_segment(at, door.start, door.end) for door in area.doors), default=inf),
        way=min((to_way(at, way) for way in ways(area)), default=inf),
        thing=min((to_thing(at, each) for each in area.fixed), default=inf),
    )


def keeps_doors_clear(area: Area, at: Point, radius: float) -> bool:
    return all(to_segment(at, door.start, door.end) >= radius + AT_A_DOOR_M - ROUNDED for door in area.doors)
