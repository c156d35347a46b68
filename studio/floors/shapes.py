"""Plane geometry of outlines: inside, distances, ways. Pure; metres."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import dist, hypot

from studio.floors.records import Fixed, Point

TOUCHING = 1e-6
Outline = Sequence[Point]


def edges(outline: Outline) -> Iterator[tuple[Point, Point]]:
    yield from zip(outline, [*outline[1:], outline[0]], strict=True)


def area_m2(outline: Outline) -> float:
    """By the shoelace formula."""
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in edges(outline))) / 2


def bounds(points: Sequence[Point]) -> tuple[float, float, float, float]:
    """Least x, least y, greatest x, greatest y."""
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def nearest_on(point: Point, start: Point, end: Point) -> Point:
    """The point of a segment that is nearest to another point."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = dx * dx + dy * dy
    if not length:
        return start
    share = ((point[0] - start[0]) * dx + (point[1] - start[1]) * dy) / length
    share = min(1.0, max(0.0, share))
    return start[0] + share * dx, start[1] + share * dy


def to_segment(point: Point, start: Point, end: Point) -> float:
    return dist(point, nearest_on(point, start, end))


def to_wall(point: Point, outline: Outline) -> float:
    """How far the nearest wall is."""
    return min(to_segment(point, a, b) for a, b in edges(outline))


def to_thing(point: Point, thing: Fixed) -> float:
    """How far a point is from a rectangle; 0 within it."""
    dx = max(abs(point[0] - thing.at[0]) - thing.width / 2, 0)
    dy = max(abs(point[1] - thing.at[1]) - thing.depth / 2, 0)
    return hypot(dx, dy)


def to_way(point: Point, way: Sequence[Point]) -> float:
    """How far a point is from a line of several points."""
    return min(to_segment(point, a, b) for a, b in pairwise(way))


def inside(point: Point, outline: Outline) -> bool:
    """Whether a point lies in the outline; on its edge counts."""
    x, y = point
    if to_wall(point, outline) < TOUCHING:
        return True
    crossed = False
    for (ax, ay), (bx, by) in edges(outline):
        if (ay > y) != (by > y) and x < (bx - ax) * (y - ay) / (by - ay) + ax:
            crossed = not crossed
    return crossed


def holds(outline: Outline, centre: Point, radius: float) -> bool:
    """Whether a disc lies wholly in the outline."""
    return inside(centre, outline) and to_wall(centre, outline) >= radius - TOUCHING


def crossing(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether two segments cross within both; merely touching doesn't count."""

    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    one, two, three, four = side(a, b, c), side(a, b, d), side(c, d, a), side(c, d, b)
    return one * two < -(TOUCHING**2) and three * four < -(TOUCHING**2)


def apart(a: Point, b: Point, c: Point, d: Point) -> float:
    """The distance of two segments."""
    if crossing(a, b, c, d):
        return 0.0
    ends = ((a, c, d), (b, c, d), (c, a, b), (d, a, b))
    return min(to_segment(*each) for each in ends)


def crosses_itself(outline: Outline) -> tuple[int, int] | None:
    """The numbers, from 1, of two edges that cross or lie on each other; None for a sound outline."""
    found = list(edges(outline))
    for one in range(len(found)):
        for two in range(one + 1, len(found)):
            beside = two == one + 1 or (one == 0 and two == len(found) - 1)
            if beside and _folds_back(found[one], found[two]):
                return one + 1, two + 1
            if not beside and apart(*found[one], *found[two]) < TOUCHING:
                return one + 1, two + 1
    return None


def _folds_back(one: tuple[Point, Point], two: tuple[Point, Point]) -> bool:
    """Whether two neighbouring edges lie on each other."""
    if one[1] != two[0]:
        one, two = two, one
    corner = one[1]
    ux, uy = one[0][0] - corner[0], one[0][1] - corner[1]
    vx, vy = two[1][0] - corner[0], two[1][1] - corner[1]
    return abs(ux * vy - uy * vx) < TOUCHING and ux * vx + uy * vy > 0


def sees(a: Point, b: Point, outline: Outline) -> bool:
    """Whether the straight line between two points of the room stays in it."""
    if any(crossing(a, b, c, d) for c, d in edges(outline)):
        return False
    steps = max(2, int(dist(a, b) / 0.25))
    return all(
        inside((a[0] + (b[0] - a[0]) * n / steps, a[1] + (b[1] - a[1]) * n / steps), outline)
        for n in range(1, steps)
    )


def on_wall(point: Point, outline: Outline) -> tuple[int, Point]:
    """The nearest point of the outline, and the number, from 0, of the edge on which it lies."""
    found = [(nearest_on(point, a, b), number) for number, (a, b) in enumerate(edges(outline))]
    nearest, number = min(found, key=lambda each: (dist(point, each[0]), each[1]))
    return number, nearest


def along_wall(start: Point, end: Point, outline: Outline) -> list[list[Point]]:
    """The two ways along the wall between two points of it, with the corners that they turn; the shorter one first.

    Only one where both lie on the same wall.
    """
    first, a = on_wall(start, outline)
    last, b = on_wall(end, outline)
    if first == last:
        return [[a, b]]
    count = len(outline)
    forth = [outline[(first + 1 + n) % count] for n in range((last - first) % count)]
    back = [outline[(first - n) % count] for n in range((first - last) % count)]
    return sorted([[a, *forth, b], [a, *back, b]], key=length)


def length(way: Sequence[Point]) -> float:
    return sum(dist(a, b) for a, b in pairwise(way))
