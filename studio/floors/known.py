"""The floor of a room or of what it is made of, from its rows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from studio.floors.records import Area, Fixed, Floor, Opening, Point, Use, WallBox
from studio.floors.shapes import bounds
from studio.models import Room, RoomFloor

GAP_M = 0.5
PLAIN_M = (8.0, 6.0)
IN_ORDER = [Use.LIVE, Use.BOOTH, Use.CONTROL]


def floor_of(room: Room, least_m2: float = 0) -> Floor:
    """The room as drawn, or its parts as drawn; else a plain rectangle, of at least so many square metres.

    Lines of parts are counted on: those of the live rooms first, then the booths', then the control rooms', each in
    the house's order. A constant number of queries.
    """
    rooms = room.with_parts()
    rows = RoomFloor.objects.filter(room__in=rooms).select_related("room")
    drawn = [row for row in rows if row.outline]
    own = [row for row in drawn if row.room_id == room.pk]
    if own:
        return Floor((own[0].as_area(),))
    if not drawn:
        return plain(room.name, least_m2)
    drawn.sort(key=lambda row: (IN_ORDER.index(Use(row.use)), row.room.order, row.room.name, row.pk))
    return beside_each_other(_counted_on(drawn))


def plain(name: str, least_m2: float = 0) -> Floor:
    """A rectangle guessed from nothing known."""
    width, depth = PLAIN_M
    grow = max(1.0, (least_m2 / (width * depth)) ** 0.5)
    width, depth = round(width * grow, 1), round(depth * grow, 1)
    return Floor((Area(name, ((0, 0), (width, 0), (width, depth), (0, depth))),), guessed=True)


def _counted_on(rows: Iterable[RoomFloor]) -> list[Area]:
    areas, before = [], 0
    for row in rows:
        area = row.as_area()
        boxes = tuple(replace(box, first=box.first + before, last=box.last + before) for box in area.boxes)
        areas.append(replace(area, boxes=boxes))
        before += row.room.lines
    return areas


def beside_each_other(areas: Iterable[Area]) -> Floor:
    """Areas that lie on top of each other, since each was drawn from its own corner, are put side by side."""
    placed: list[Area] = []
    apart: list[str] = []
    for area in areas:
        if any(_overlap(area, other) for other in placed):
            right = max(bounds(other.outline)[2] for other in placed)
            area = moved(area, right + GAP_M - bounds(area.outline)[0], 0)
            apart.append(area.name)
        placed.append(area)
    return Floor(tuple(placed), apart=tuple(apart))


def _overlap(one: Area, two: Area) -> bool:
    a, b = bounds(one.outline), bounds(two.outline)
    deep = 0.05
    return a[0] < b[2] - deep and b[0] < a[2] - deep and a[1] < b[3] - deep and b[1] < a[3] - deep


def moved(area: Area, dx: float, dy: float) -> Area:
    def by(at: Point) -> Point:
        return round(at[0] + dx, 3), round(at[1] + dy, 3)

    def opening(each: Opening) -> Opening:
        return replace(each, start=by(each.start), end=by(each.end))

    return replace(
        area,
        outline=tuple(by(at) for at in area.outline),
        boxes=tuple(WallBox(box.name, by(box.at), box.first, box.last) for box in area.boxes),
        doors=tuple(opening(each) for each in area.doors),
        windows=tuple(opening(each) for each in area.windows),
        fixed=tuple(Fixed(each.name, by(each.at), each.width, each.depth) for each in area.fixed),
    )
