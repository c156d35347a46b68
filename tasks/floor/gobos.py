"""Screens between what is loud and what is quiet. Pure; metres."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import dist

from studio.floors.records import Area, Point
from studio.floors.shapes import apart, holds, to_segment, to_thing
from tasks.floor.records import Gobo, Place
from tasks.floor.ways import HALF_M, keeps_doors_clear, ways

WIDE_M = 1.4
NEAR_M = 6.0
"""Beyond it a screen does little that the distance doesn't. Common practice, no single source."""
SHARES = (0.5, 0.4, 0.6, 0.3, 0.7)


def gobos(areas: Sequence[Area], places: Sequence[Place]) -> tuple[Gobo, ...]:
    """For each quiet source one screen towards the nearest loud one of its room, where a screen can stand."""
    found: list[Gobo] = []
    for area in areas:
        here = [place for place in places if place.area == area.name]
        for place in here:
            loud = [other for other in here if other.station.loud and dist(other.at, place.at) <= NEAR_M]
            if place.station.quiet and loud:
                nearest = min(loud, key=lambda other: (dist(other.at, place.at), other.station.key))
                if screen := _between(area, nearest, place, here, found):
                    found.append(screen)
    return tuple(found)


def _between(
    area: Area, loud: Place, quiet: Place, here: Sequence[Place], others: Sequence[Gobo]
) -> Gobo | None:
    for share in SHARES:
        start, end = _across(loud.at, quiet.at, share)
        if _stands(area, start, end, here) and all(
            apart(start, end, other.start, other.end) > 0.1 for other in others
        ):
            return Gobo(start, end, (loud.station.key, quiet.station.key))
    return None


def _across(a: Point, b: Point, share: float) -> tuple[Point, Point]:
    """A screen across the line from one to the other, at this share of it."""
    far = dist(a, b) or 1.0
    x, y = a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share
    dx, dy = -(b[1] - a[1]) / far * WIDE_M / 2, (b[0] - a[0]) / far * WIDE_M / 2
    return (round(x - dx, 2), round(y - dy, 2)), (round(x + dx, 2), round(y + dy, 2))


def _stands(area: Area, start: Point, end: Point, here: Sequence[Place]) -> bool:
    middle = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    if not all(
        holds(area.outline, at, 0.1) and keeps_doors_clear(area, at, 0) for at in (start, end, middle)
    ):
        return False
    if any(apart(start, end, a, b) < HALF_M for way in ways(area) for a, b in pairwise(way)):
        return False
    if any(to_thing(at, thing) < 0.05 for thing in area.fixed for at in (start, end, middle)):
        return False
    return all(
        to_segment(place.at, start, end) >= place.station.radius + 0.05 for place in here if not place.fixed
    )
