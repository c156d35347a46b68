"""A floor as shapes to draw: everything in centimetres, ready for an SVG's attributes. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot

from studio.floors.records import Area, Fixed, Floor, Opening, Point, Use, WallBox
from studio.floors.shapes import area_m2, bounds

MARGIN_M = 0.6
FOOT_M = 0.9
"""Room under the drawing for its scale bar."""
SCALES_M = (1, 2, 5, 10, 20)
IN_WORDS = {Use.LIVE: "live room", Use.BOOTH: "booth", Use.CONTROL: "control room"}


def cm(metres: float) -> int:
    return round(metres * 100)


def xy(at: Point) -> str:
    return f"{cm(at[0])},{cm(at[1])}"


def points(way: Sequence[Point]) -> str:
    return " ".join(xy(at) for at in way)


@dataclass(frozen=True, slots=True)
class Segment:
    """A line with a name."""

    name: str
    x1: int
    y1: int
    x2: int
    y2: int


@dataclass(frozen=True, slots=True)
class Label:
    """Words at a point. anchor: start, middle or end, as SVG has it."""

    words: str
    x: int
    y: int
    anchor: str = "middle"


@dataclass(frozen=True, slots=True)
class Box:
    """A wall box: its square, and the words beside it, on the room's side."""

    x: int
    y: int
    label: Label


@dataclass(frozen=True, slots=True)
class Block:
    """What never moves: its rectangle."""

    x: int
    y: int
    width: int
    height: int
    label: Label


@dataclass(frozen=True, slots=True)
class DrawnArea:
    name: str
    use: str
    outline: str
    label: Label
    doors: tuple[Segment, ...]
    windows: tuple[Segment, ...]
    sights: tuple[Segment, ...]
    boxes: tuple[Box, ...]
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    """view: an SVG's viewBox. unit: a hundredth of the width, by which letters are sized; metres: of the scale bar."""

    view: str
    unit: float
    areas: tuple[DrawnArea, ...]
    scale: Segment
    metres: int
    height_share: float

    @property
    def tall(self) -> bool:
        return self.height_share > 1


def drawing(floor: Floor) -> Drawing:
    x, y, far_x, far_y = bounds([at for area in floor.areas for at in area.outline])
    width, height = far_x - x + 2 * MARGIN_M, far_y - y + 2 * MARGIN_M + FOOT_M
    metres = max((each for each in SCALES_M if each <= width / 4), default=1)
    foot = cm(far_y + MARGIN_M + FOOT_M / 2)
    return Drawing(
        view=f"{cm(x - MARGIN_M)} {cm(y - MARGIN_M)} {cm(width)} {cm(height)}",
        unit=round(width, 2),
        areas=tuple(drawn_area(area) for area in floor.areas),
        scale=Segment(f"{metres} m", cm(x), foot, cm(x + metres), foot),
        metres=metres,
        height_share=height / width,
    )


def drawn_area(area: Area) -> DrawnArea:
    left, _, _, bottom = bounds(area.outline)
    return DrawnArea(
        name=area.name,
        use=area.use.value,
        outline=points(area.outline),
        label=Label(area.name, cm(left) + 20, cm(bottom) - 20, "start"),
        doors=tuple(_segment(each) for each in area.doors),
        windows=tuple(_segment(each) for each in area.windows),
        sights=tuple(_segment(each) for each in area.sights),
        boxes=tuple(_box(box, area) for box in area.boxes),
        blocks=tuple(_block(each) for each in area.fixed),
    )


def _segment(each: Opening) -> Segment:
    return Segment(each.name, cm(each.start[0]), cm(each.start[1]), cm(each.end[0]), cm(each.end[1]))


def _box(box: WallBox, area: Area) -> Box:
    """Its words stand towards the middle of the room, on the side where there is more of it."""
    left, top, right, bottom = bounds(area.outline)
    to_right = box.at[0] - left <= right - box.at[0]
    lower = box.at[1] - top < 0.5
    higher = bottom - box.at[1] < 0.5
    x = cm(box.at[0]) + (25 if to_right else -25)
    y = cm(box.at[1]) + (45 if lower else -25 if higher else 8)
    words = f"{box.name} {box.first}–{box.last}" if box.first != box.last else f"{box.name} {box.first}"
    return Box(cm(box.at[0]) - 12, cm(box.at[1]) - 12, Label(words, x, y, "start" if to_right else "end"))


def _block(thing: Fixed) -> Block:
    x, y = thing.corner
    label = Label(thing.name, cm(thing.at[0]), cm(thing.at[1]))
    return Block(cm(x), cm(y), cm(thing.width), cm(thing.depth), label)


def in_words(floor: Floor) -> Iterator[str]:
    """The same as the drawing, a sentence for each thing."""
    for area in floor.areas:
        left, top, right, bottom = bounds(area.outline)
        yield (
            f"{area.name}, {IN_WORDS[area.use]}: {area_m2(area.outline):.0f} square metres, "
            f"{right - left:g} m wide and {bottom - top:g} m deep."
        )
        for box in area.boxes:
            yield f"{box.name} with {box.lines} at {_at(box.at, area)}."
        for door in area.doors:
            yield f"{door.name}, {_long(door)} m wide, at {_at(door.middle, area)}."
        for window in area.windows:
            sight = f": sight line to {window.sees}" if window.sees else ""
            yield f"{window.name}, {_long(window)} m wide, at {_at(window.middle, area)}{sight}."
        for thing in area.fixed:
            yield f"{thing.name}, {thing.width:g} by {thing.depth:g} m, stands at {_at(thing.at, area)}."


def _at(at: Point, area: Area) -> str:
    left, top, _, _ = bounds(area.outline)
    return f"{round(at[0] - left, 1):g} m from the left, {round(at[1] - top, 1):g} m from the top"


def _long(each: Opening) -> str:
    return f"{round(hypot(each.end[0] - each.start[0], each.end[1] - each.start[1]), 1):g}"
