"""A floor plan as shapes for an SVG, and the same as a table and in words. Pure; centimetres in the shapes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import cos, radians, sin

from studio.floors.drawing import Drawing, Label, Segment, cm, drawing, points
from studio.floors.records import Area, Floor, Point
from studio.floors.shapes import bounds, inside
from tasks.checklists.sheet import numbers_in_words
from tasks.floor.placing import sees_through, sight_of
from tasks.floor.records import Cable, FloorPlan, Place
from tasks.floor.stations import Kind, token
from tasks.papers.sheets import Sheet

MIC_OUT_M = 0.12
Box = tuple[float, float, float, float]
"""Left, top, right, bottom; m."""
OUTSIDE_COST = 0.05
"""In square metres covered, for each corner."""
LETTER_SHARE = 0.019
"""The height of a name's letters, as a share of the drawing's width (as in the style sheet)."""
SPREAD_DEG = 28.0


@dataclass(frozen=True, slots=True)
class Spot:
    """A source: its disc, its numbers in it, its name below. token stands in the form's names of fields."""

    token: str
    name: str
    kind: str
    x: int
    y: int
    r: int
    numbers: str
    by_hand: bool
    microphones: tuple[tuple[int, int], ...]
    name_x: int
    name_y: int
    anchor: str


@dataclass(frozen=True, slots=True)
class Picture:
    drawn: Drawing
    spots: tuple[Spot, ...]
    cables: tuple[str, ...]
    gobos: tuple[Segment, ...]
    ways: tuple[str, ...]
    sights: tuple[Segment, ...]


def picture(plan: FloorPlan) -> Picture:
    drawn = drawing(plan.floor)
    letter = drawn.unit * LETTER_SHARE
    outlines = {area.name: area.outline for area in plan.floor.areas}
    discs = [Disc(p.station.key, p.at, p.station.radius, outlines[p.area]) for p in plan.places]
    names = names_beside(discs, letter)
    spots = tuple(_spot(place, *name) for place, name in zip(plan.places, names, strict=True))
    return Picture(
        drawn=_with_free_names(drawn, plan, letter),
        spots=spots,
        cables=tuple(dict.fromkeys(points(cable.run.way) for cable in plan.cables)),
        gobos=tuple(
            Segment(" and ".join(g.between), cm(g.start[0]), cm(g.start[1]), cm(g.end[0]), cm(g.end[1]))
            for g in plan.gobos
        ),
        ways=tuple(points(way) for _, found in plan.ways for way in found),
        sights=tuple(_sights(plan)),
    )


def _spot(place: Place, name_at: Point, anchor: str) -> Spot:
    station = place.station
    x, y, r = cm(place.at[0]), cm(place.at[1]), cm(station.radius)
    return Spot(
        token=token(station.key),
        name=station.key,
        kind=station.kind.name.lower(),
        x=x,
        y=y,
        r=r,
        numbers=numbers_in_words(station.numbers),
        by_hand=place.by_hand,
        microphones=tuple(_microphones(place)),
        name_x=cm(name_at[0]),
        name_y=cm(name_at[1]),
        anchor=anchor,
    )


@dataclass(frozen=True, slots=True)
class Disc:
    """A source with its name, in the outline of its room."""

    name: str
    at: Point
    radius: float
    outline: tuple[Point, ...]


def names_beside(discs: Sequence[Disc], letter: float) -> list[tuple[Point, str]]:
    """Where each name is written: below, above or beside its disc, wherever it covers least. letter: its height, m."""
    found: list[tuple[Point, str]] = []
    taken = [_around(disc.at, disc.radius) for disc in discs]
    for number, disc in enumerate(discs):
        x, y, anchor = _free_way(disc, letter, taken[:number] + taken[number + 1 :])
        taken.append(_written(x, y, anchor, _wide(disc.name, letter), letter))
        found.append(((x, y), anchor))
    return found


def _wide(name: str, letter: float) -> float:
    return len(name) * letter * 0.55


def _free_way(disc: Disc, letter: float, others: Sequence[Box]) -> tuple[float, float, str]:
    (x, y), r = disc.at, disc.radius
    ways: list[tuple[float, float, str]] = [
        (x, y + r + letter, "middle"),
        (x, y - r - letter * 0.3, "middle"),
        (x + r + letter * 0.3, y + letter * 0.35, "start"),
        (x - r - letter * 0.3, y + letter * 0.35, "end"),
    ]

    def cost(way: tuple[float, float, str]) -> float:
        box = _written(*way, _wide(disc.name, letter), letter)
        return _covered(box, others) + _outside(box, disc.outline)

    return min(ways, key=cost)


def _with_free_names(drawn: Drawing, plan: FloorPlan, letter: float) -> Drawing:
    """Each room's name in the corner where it covers least."""
    taken = [_around(place.at, place.station.radius) for place in plan.places]
    areas = tuple(
        replace(shape, label=_corner(area, letter, taken))
        for shape, area in zip(drawn.areas, plan.floor.areas, strict=True)
    )
    return replace(drawn, areas=areas)


def _corner(area: Area, letter: float, taken: Sequence[Box]) -> Label:
    left, top, right, bottom = bounds(area.outline)
    wide, x, low, high = len(area.name) * letter * 0.6, left + 0.2, bottom - 0.2, top + 0.2 + letter
    ways = [(x, low), (right - wide - 0.2, low), (x, high), (right - wide - 0.2, high)]

    def cost(at: Point) -> float:
        box = _written(*at, "start", wide, letter)
        return _covered(box, taken) + _outside(box, area.outline)

    best = min(ways, key=cost)
    return Label(area.name, cm(best[0]), cm(best[1]), "start")


def _written(x: float, y: float, anchor: str, wide: float, letter: float) -> Box:
    left = x - wide / 2 if anchor == "middle" else x if anchor == "start" else x - wide
    return left, y - letter, left + wide, y + letter * 0.2


def _around(at: Point, radius: float) -> Box:
    return at[0] - radius, at[1] - radius, at[0] + radius, at[1] + radius


def _outside(box: Box, outline: Sequence[Point]) -> float:
    """What it costs that corners of a box lie outside a room."""
    left, top, right, bottom = box
    return OUTSIDE_COST * sum(not inside(at, outline) for at in product((left, right), (top, bottom)))


def _covered(box: Box, others: Sequence[Box]) -> float:
    """How much of others a box covers, in square metres."""
    left, top, right, bottom = box
    return sum(
        max(0.0, min(right, other[2]) - max(left, other[0]))
        * max(0.0, min(bottom, other[3]) - max(top, other[1]))
        for other in others
    )


def _microphones(place: Place) -> Iterator[tuple[int, int]]:
    """Side by side before the source, on the side that it faces; of a kit all around it."""
    count = len(place.station.microphones)
    step = 360 / count if place.station.kind is Kind.KIT and count else min(SPREAD_DEG, 150 / max(count, 1))
    for number in range(count):
        turn = radians(place.facing + (number - (count - 1) / 2) * step)
        out = place.station.radius + MIC_OUT_M
        yield cm(place.at[0] + out * cos(turn)), cm(place.at[1] + out * sin(turn))


def _sights(plan: FloorPlan) -> Iterator[Segment]:
    """From each singer to the window that it faces, where it sees through."""
    areas = {area.name: area for area in plan.floor.areas}
    for place in plan.places:
        window = sight_of(areas[place.area], place.at)
        if place.station.kind is not Kind.SINGER or window is None:
            continue
        if sees_through(areas[place.area], place.at, window):
            at, end = place.at, window.middle
            yield Segment(window.sees, cm(at[0]), cm(at[1]), cm(end[0]), cm(end[1]))


def sheet(plan: FloorPlan) -> Sheet:
    """The plan as a table, one row a source."""
    headings = ("Inputs", "Source", "Room", "Across", "Down", "Microphones", "Wall box", "Cable", "Why there")
    by_number = {cable.number: cable for cable in plan.cables}
    areas = {area.name: area for area in plan.floor.areas}
    rows = tuple(_row(place, areas[place.area], by_number) for place in plan.places)
    return Sheet("floor", "Floor plan", headings, rows)


def _row(place: Place, area: Area, by_number: dict[int, Cable]) -> tuple[str, ...]:
    left, top, _, _ = bounds(area.outline)
    station = place.station
    return (
        numbers_in_words(station.numbers),
        station.key,
        place.area,
        f"{place.at[0] - left:.1f} m",
        f"{place.at[1] - top:.1f} m",
        ", ".join(each.unit for each in station.microphones if each.unit) or "none",
        _boxes([by_number[number] for number in station.numbers if number in by_number]),
        _lengths([by_number[number] for number in station.numbers if number in by_number]),
        "Put there by hand." if place.by_hand else place.why,
    )


def _boxes(cables: Sequence[Cable]) -> str:
    return ", ".join(dict.fromkeys(cable.run.box.name for cable in cables)) or "not known"


def _lengths(cables: Sequence[Cable]) -> str:
    """Like “7.5 m”, or “2 × 7.5 m, 9 m”."""
    counted: dict[float, int] = {}
    for cable in cables:
        counted[cable.run.metres] = counted.get(cable.run.metres, 0) + 1
    said = [f"{count} × {metres:g} m" if count > 1 else f"{metres:g} m" for metres, count in counted.items()]
    return ", ".join(said) or "not known"


def in_words(plan: FloorPlan) -> str:
    """One paragraph that says what the drawing shows, for whoever doesn't see it."""
    said = [f"{place.station.key} at {_where(place, plan.floor)}" for place in plan.places]
    if plan.gobos:
        said.append(f"{len(plan.gobos)} screens: " + ", ".join(" from ".join(g.between) for g in plan.gobos))
    return "; ".join(said) + "." if said else "Nothing stands here."


def _where(place: Place, floor: Floor) -> str:
    area = next(each for each in floor.areas if each.name == place.area)
    left, top, _, _ = bounds(area.outline)
    return (
        f"{place.at[0] - left:.1f} m from the left and {place.at[1] - top:.1f} m from the top of {place.area}"
    )
