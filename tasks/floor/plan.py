"""The whole floor plan: places, screens, cables, and what there is to say about them. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from math import dist

from studio.acoustics import keeps_three_to_one
from studio.floors.records import Area, Floor, Point
from studio.floors.shapes import to_way
from tasks.checklists.sheet import numbers_in_words
from tasks.floor.cables import Run, nearest_run, passes_a_door, run, through_a_door
from tasks.floor.gobos import gobos
from tasks.floor.placing import Kept, placed, refused, three_to_one_m
from tasks.floor.records import Cable, FloorPlan, Place
from tasks.floor.stations import FloorInput, Station
from tasks.floor.ways import HALF_M, ways

MUCH_NEARER_M = 6.0
MOST_SAID = 6
"""Pairs of microphones that are named one by one."""


def least_m2(stations: Sequence[Station]) -> float:
    """The floor that a list wants where none is drawn: four times what its sources take up."""
    return sum(4 * (2 * each.radius) ** 2 for each in stations)


def floor_plan(floor: Floor, stations: tuple[Station, ...], kept: Kept = ()) -> FloorPlan:
    places, left_over = placed(floor, stations, kept)
    cables = tuple(cable for place in places for cable in _cables(floor, place))
    return FloorPlan(
        floor=floor,
        places=places,
        gobos=gobos(floor.areas, places),
        cables=cables,
        ways=tuple((area.name, ways(area)) for area in floor.areas),
        left_over=left_over,
        said=tuple(_said(floor, places, left_over, dict(kept), cables)),
    )


def lengths_m(plan: FloorPlan) -> dict[int, float]:
    """Metres of cable by input number; without those of which nothing is known."""
    return {cable.number: cable.run.metres for cable in plan.cables}


def _cables(floor: Floor, place: Place) -> Iterator[Cable]:
    area = next(each for each in floor.areas if each.name == place.area)
    for each in place.station.inputs:
        if found := _run(floor, area, place.at, each):
            yield Cable(each.number, area.name, found, found.crosses or passes_a_door(area, found))


def _run(floor: Floor, area: Area, at: Point, each: FloorInput) -> Run | None:
    """To the box where its line ends; to the nearest one while it has no line."""
    if not each.line:
        return nearest_run(area, at, each.stand, ways(area))
    ends = floor.box_of(each.line)
    if ends is None:
        return None
    other, box = ends
    if other.name == area.name:
        return run(area, box, at, each.stand, ways(area))
    return through_a_door(area, at, other, box, each.stand)


def _said(
    floor: Floor,
    places: Sequence[Place],
    left_over: Sequence[Station],
    kept: Mapping[str, Point],
    cables: Sequence[Cable],
) -> Iterator[str]:
    yield from _of_the_floor(floor)
    for station in left_over:
        yield (
            f"No room for {station.key} ({2 * station.radius:g} m across) with doors and ways kept clear. "
            "Move others closer together by hand, or put it into another room."
        )
    for place in places:
        if place.station.key in kept and not place.by_hand:
            because = refused(floor, places, place.station, kept[place.station.key])
            yield f"Put elsewhere than by hand: {because or 'that place is taken.'}"
        yield from _in_the_way(floor, place)
    yield from _too_near(places)
    yield from _of_cables(floor, places, cables)


def _of_the_floor(floor: Floor) -> Iterator[str]:
    if floor.guessed:
        name = floor.areas[0].name
        yield (
            f"Nothing is known of the shape of {name}: this plain rectangle is guessed, and so is every distance. "
            "Its outline can be drawn under House, Rooms."
        )
    for name in floor.apart:
        yield f"{name} is drawn beside the others: it is measured from a corner of its own."


def _in_the_way(floor: Floor, place: Place) -> Iterator[str]:
    area = next(each for each in floor.areas if each.name == place.area)
    if place.by_hand and any(to_way(place.at, way) < place.station.radius + HALF_M for way in ways(area)):
        yield f"{place.station.key}: in the way to a door. Keep a way free that everybody can walk."


def _too_near(places: Sequence[Place]) -> Iterator[str]:
    found = []
    for one, two in combinations(places, 2):
        wanted = three_to_one_m(one.station, two.station)
        far = dist(one.at, two.at)
        if wanted and one.area == two.area and not keeps_three_to_one(wanted / 3, far):
            found.append(
                f"{one.station.key} and {two.station.key} stand {far:.1f} m apart, less than three times the "
                f"{wanted / 3:.2g} m to their microphones: listen for a hollow sound."
            )
    yield from found[:MOST_SAID]
    if len(found) > MOST_SAID:
        yield f"{len(found) - MOST_SAID} more pairs stand nearer than three to one: come closer with those microphones."


def _of_cables(floor: Floor, places: Sequence[Place], cables: Sequence[Cable]) -> Iterator[str]:
    by_number = {cable.number: cable for cable in cables}
    for place in places:
        elsewhere = [
            each
            for each in place.station.inputs
            if (ends := floor.box_of(each.line)) and ends[0].name != place.area
        ]
        if elsewhere:
            yield _of_another_room(floor, place, elsewhere, by_number)
        crossing = [cable for each in place.station.inputs if (cable := by_number.get(each.number))]
        if not elsewhere and any(cable.crosses_way for cable in crossing):
            yield f"{_named(place.station.inputs)}: a cable lies where people walk. Cover or fix it."
        if not elsewhere and (nearer := _nearer_box(floor, place, crossing)):
            yield nearer


def _nearer_box(floor: Floor, place: Place, cables: Sequence[Cable]) -> str:
    """Where another box of its room is much nearer than the one of its line."""
    area = next(each for each in floor.areas if each.name == place.area)
    longest = max(cables, key=lambda cable: cable.run.metres, default=None)
    if longest is None or longest.area != place.area:
        return ""
    stand = next(each.stand for each in place.station.inputs if each.number == longest.number)
    nearest = nearest_run(area, place.at, stand, ways(area))
    if nearest is None or longest.run.metres - nearest.metres < MUCH_NEARER_M:
        return ""
    return (
        f"{_named(place.station.inputs)}: {longest.run.metres:g} m to {longest.run.box.name}; {nearest.box.name} is "
        f"nearer, {nearest.metres:g} m ({nearest.box.lines})."
    )


def _of_another_room(
    floor: Floor, place: Place, inputs: Sequence[FloorInput], by_number: Mapping[int, Cable]
) -> str:
    rooms = {found[0].name for each in inputs if (found := floor.box_of(each.line))}
    longest = max(
        (by_number[each.number].run.metres for each in inputs if each.number in by_number), default=0
    )
    area = next(each for each in floor.areas if each.name == place.area)
    own = " or ".join(f"{box.lines} of {box.name}" for box in area.boxes)
    through = f" Through the door it is {longest:g} m, and the door can't be shut." if longest else ""
    return (
        f"{_named(inputs)}: stands in {place.area}, planned on a line that ends in {' and '.join(sorted(rooms))}."
        f"{through} Take {own or 'a line of its own room'}, or tie lines."
    )


def _named(inputs: Sequence[FloorInput]) -> str:
    """Like “7 Snare top”, or “1–10 Kick and others”."""
    numbers = numbers_in_words(each.number for each in inputs)
    return f"{numbers} {inputs[0].label}{' and others' if len(inputs) > 1 else ''}"
