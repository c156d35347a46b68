"""Where each source stands: the first that fits best, one after the other, always the same for the same list. Pure.

Never outside the room, never on top of another, never before a door or in the way to it. Within that: singers where
they see the control room, the loud away from the quiet and by the walls, the piano where it stands, and microphones
three times as far from other sources as from their own, where there is room.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from math import atan2, degrees, dist, pi

from studio.floors.records import Area, Fixed, Floor, Opening, Point, Use
from studio.floors.shapes import holds, sees, to_segment, to_thing, to_wall
from tasks.floor.records import Place
from tasks.floor.stations import Kind, Station
from tasks.floor.ways import AT_A_DOOR_M, HALF_M, ROUNDED, Spot, hub, keeps_doors_clear, measured

BETWEEN_M = 0.2
LOUD_TO_QUIET_M = 4.0
FROM_THE_WINDOW_M = 3.0
CABLE_WEIGHT = 0.15
LEAST_ARC_M = 1.8
MOST_THREE_TO_ONE_M = 4.0
ORDER = [
    Kind.PIANO,
    Kind.KIT,
    Kind.CHOIR,
    Kind.SINGER,
    Kind.AMP,
    Kind.PLAYER,
    Kind.KEYS,
    Kind.PLAYBACK,
    Kind.ARRAY,
]
PIANO_WORDS = {
    "grand_piano": ("grand", "flügel", "flugel", "queue", "cola", "coda", "vleugel"),
    "upright_piano": ("upright", "klavier", "droit", "vertical", "piano"),
    "piano": ("grand", "piano", "upright", "flügel", "klavier", "vleugel"),
    "pipe_organ": ("organ", "orgel", "orgue", "órgano", "organo"),
    "harpsichord": ("harpsichord", "cembalo", "clavecin"),
}
Kept = tuple[tuple[str, Point], ...]


@lru_cache(maxsize=128)
def placed(
    floor: Floor, stations: tuple[Station, ...], kept: Kept = ()
) -> tuple[tuple[Place, ...], tuple[Station, ...]]:
    """Each station's place, and those for which there is none. kept: where somebody has put some by hand.

    Whatever isn't in the way of those stands where it would without them.
    """
    usual = {place.station.key: place for place in placed(floor, stations)[0]} if kept else {}
    places = list(_by_hand(floor, stations, dict(kept)))
    left_over: list[Station] = []
    done = {place.station.key for place in places}
    for station in sorted(stations, key=lambda each: ORDER.index(each.kind)):
        if station.key in done:
            continue
        before = usual.get(station.key)
        stays = before is not None and (before.fixed or _clear_of(before, places))
        place = before if stays else _found(floor, station, stations, places)
        if place:
            places.append(place)
        else:
            left_over.append(station)
    order = {station.key: number for number, station in enumerate(stations)}
    places.sort(key=lambda place: order[place.station.key])
    return tuple(places), tuple(sorted(left_over, key=lambda each: order[each.key]))


def _by_hand(floor: Floor, stations: Sequence[Station], kept: Mapping[str, Point]) -> Sequence[Place]:
    places: list[Place] = []
    for station in stations:
        at = kept.get(station.key)
        area = area_at(floor, at) if at else None
        if at and area and not refused(floor, places, station, at):
            places.append(Place(station, area.name, at, _facing(area, station, at, places), "", True))
    return places


def _clear_of(place: Place, others: Iterable[Place]) -> bool:
    return all(
        dist(place.at, other.at) >= place.station.radius + other.station.radius + BETWEEN_M - ROUNDED
        for other in others
        if other.area == place.area and not other.fixed
    )


def area_at(floor: Floor, at: Point) -> Area | None:
    return next((area for area in floor.areas if holds(area.outline, at, 0)), None)


def refused(floor: Floor, places: Iterable[Place], station: Station, at: Point) -> str:
    """Why a source can't stand there, as a sentence; empty where it can. A way crossed is a caution, no refusal."""
    area = area_at(floor, at)
    if area is None or not holds(area.outline, at, station.radius):
        return (
            f"{station.key} would stand outside the room: it takes {2 * station.radius:g} m across. "
            "Move it in from the wall."
        )
    if not keeps_doors_clear(area, at, station.radius):
        return (
            f"{station.key} would stand before a door: {AT_A_DOOR_M:g} m are kept clear there. Move it away."
        )
    for thing in area.fixed:
        if to_thing(at, thing) < station.radius and not _is(station, thing):
            return f"{station.key} would stand on {thing.name}. Move one of them."
    for other in places:
        near = dist(at, other.at) < station.radius + other.station.radius - ROUNDED
        if near and other.station.key != station.key and other.area == area.name:
            return f"{station.key} would stand on {other.station.key}. Move it a little further."
    return ""


def _is(station: Station, thing: Fixed) -> bool:
    """Whether what stands in the room is the instrument that is wanted."""
    name = thing.name.casefold()
    return any(word in name for word in PIANO_WORDS.get(station.source_id, ()))


def _found(
    floor: Floor, station: Station, stations: Sequence[Station], places: Sequence[Place]
) -> Place | None:
    taken = {place.fixed for place in places}
    for area in floor.areas:
        for thing in area.fixed:
            if _is(station, thing) and thing.name not in taken:
                facing = _towards(thing.at, hub(area))
                why = f"{thing.name} stands there."
                return Place(station, area.name, thing.at, facing, why, fixed=thing.name)
    for area in _areas(floor, station, stations):
        if at := _best(area, station, arc_of(stations), places):
            return Place(station, area.name, at, _facing(area, station, at, places), _why(area, station))
    return None


def _areas(floor: Floor, station: Station, stations: Sequence[Station]) -> list[Area]:
    """The rooms in the order in which it is tried there."""
    live = [area for area in floor.areas if area.use is Use.LIVE]
    booths = [area for area in floor.areas if area.use is Use.BOOTH]
    control = [area for area in floor.areas if area.use is Use.CONTROL]
    if station.kind is Kind.PLAYBACK:
        return [*control, *live, *booths]
    if station.kind in (Kind.ARRAY, Kind.KIT, Kind.PIANO, Kind.CHOIR):
        return [*live, *booths, *control]
    loud = any(each.loud for each in stations)
    sung = any(each.kind is Kind.SINGER for each in stations)
    to_booth = loud and (station.kind is Kind.SINGER or (station.kind is Kind.AMP and not sung))
    return [*booths, *live, *control] if to_booth else [*live, *booths, *control]


def _best(area: Area, station: Station, arc_m: float, places: Sequence[Place]) -> Point | None:
    here = [place for place in places if place.area == area.name]
    free = [spot for spot in measured(area) if fits(spot, station, here)]
    if not free:
        return None
    beside = [
        (other.at, keeps_from(station, other.station), three_to_one_m(station, other.station))
        for other in here
    ]
    beside = [each for each in beside if each[1] or each[2]]

    def cost(spot: Spot) -> tuple[float, float, float]:
        uneasy = _by_kind(area, station, spot, here, arc_m) + CABLE_WEIGHT * _to_box(area, station, spot.at)
        for at, apart, three in beside:
            far = dist(spot.at, at)
            uneasy += 3 * max(0.0, apart - far) ** 2 + 6 * max(0.0, three - far) ** 2
        return round(uneasy, 3), spot.at[1], spot.at[0]

    return min(free, key=cost).at


def fits(spot: Spot, station: Station, here: Iterable[Place]) -> bool:
    """Whether a source may be put there by the plan itself."""
    radius = station.radius - ROUNDED
    if spot.wall < radius or spot.door < radius + AT_A_DOOR_M or spot.way < radius + HALF_M:
        return False
    if spot.thing < radius + BETWEEN_M:
        return False
    return all(
        dist(spot.at, other.at) >= radius + other.station.radius + BETWEEN_M
        for other in here
        if not other.fixed
    )


def _to_box(area: Area, station: Station, at: Point) -> float:
    """How far the box is in which its lines end, or the nearest one where they aren't given."""
    lines = {each.line for each in station.inputs}
    own = [box for box in area.boxes if any(box.first <= line <= box.last for line in lines)]
    return min((dist(at, box.at) for box in own or area.boxes), default=0.0)


def keeps_from(one: Station, two: Station) -> float:
    """How far the loud and the quiet want to be from each other; 0 for what doesn't mind."""
    return LOUD_TO_QUIET_M if (one.loud and two.quiet) or (one.quiet and two.loud) else 0.0


def arc_of(stations: Sequence[Station]) -> float:
    """The radius of a half circle on which all players have room side by side."""
    seats = [2 * each.radius + 2 * BETWEEN_M for each in stations if each.kind in (Kind.PLAYER, Kind.KEYS)]
    return max(LEAST_ARC_M, sum(seats) / pi)


def three_to_one_m(one: Station, two: Station) -> float:
    """How far apart two sources stand so that each microphone is three times as far from the other source."""
    if one.near_m is None or two.near_m is None or Kind.ARRAY in (one.kind, two.kind):
        return 0.0
    return min(3 * max(one.near_m, two.near_m), MOST_THREE_TO_ONE_M)


def _by_kind(area: Area, station: Station, spot: Spot, here: Sequence[Place], arc_m: float) -> float:
    """What speaks against a place for such a source, in metres of unease."""
    at, wall, middle = spot.at, spot.wall, spot.middle
    window = sight_of(area, at)
    match station.kind:
        case Kind.AMP:
            return 2 * max(0.0, wall - station.radius)
        case Kind.KIT:
            return 0.6 * (wall - station.radius) + _unseen(area, at, window, 2) - _far(at, window) * 0.15
        case Kind.SINGER:
            wanted = abs(to_segment(at, window.start, window.end) - FROM_THE_WINDOW_M) if window else middle
            return 0.8 * wanted + _unseen(area, at, window, 4)
        case Kind.ARRAY:
            if station.source_id == "drum_room":
                return abs(dist(at, _centre(here, station, area)) - 2.5) - 0.1 * wall
            return middle - 0.1 * wall
        case Kind.PLAYBACK:
            return wall
        case _:
            radius = min(arc_m, max(LEAST_ARC_M, to_wall(hub(area), area.outline) - station.radius))
            return 0.8 * abs(middle - radius) + _before(area, at, window) + _unseen(area, at, window, 1)


def _centre(here: Sequence[Place], station: Station, area: Area) -> Point:
    """The middle of what an array hears: the kit for a kit's room microphones, else everything that sounds."""
    heard = [each for each in here if each.station.kind not in (Kind.ARRAY, Kind.PLAYBACK)]
    if station.source_id == "drum_room":
        heard = [each for each in heard if each.station.kind is Kind.KIT] or heard
    if not heard:
        return hub(area)
    return sum(p.at[0] for p in heard) / len(heard), sum(p.at[1] for p in heard) / len(heard)


def sight_of(area: Area, at: Point) -> Opening | None:
    """The sight line nearest to a place."""
    return min(area.sights, key=lambda each: dist(each.middle, at), default=None)


def _before(area: Area, at: Point, window: Opening | None) -> float:
    """Players sit on the far side of the middle, so that they look towards the window."""
    if window is None:
        return 0.0
    middle, end = hub(area), window.middle
    far = dist(middle, end) or 1.0
    ahead = ((at[0] - middle[0]) * (end[0] - middle[0]) + (at[1] - middle[1]) * (end[1] - middle[1])) / far
    return 0.5 * max(0.0, ahead)


def _unseen(area: Area, at: Point, window: Opening | None, cost: float) -> float:
    return 0.0 if window is None or sees_through(area, at, window) else cost


@lru_cache(maxsize=20_000)
def sees_through(area: Area, at: Point, window: Opening) -> bool:
    return sees(at, window.middle, area.outline)


def _far(at: Point, window: Opening | None) -> float:
    return dist(at, window.middle) if window else 0.0


def _facing(area: Area, station: Station, at: Point, places: Sequence[Place]) -> float:
    window = sight_of(area, at)
    if station.kind is Kind.SINGER and window and sees_through(area, at, window):
        return _towards(at, window.middle)
    if station.kind is Kind.ARRAY:
        return _towards(at, _centre([p for p in places if p.area == area.name], station, area))
    return _towards(at, hub(area))


def _towards(at: Point, other: Point) -> float:
    return round(degrees(atan2(other[1] - at[1], other[0] - at[0])), 1) if at != other else 0.0


def _why(area: Area, station: Station) -> str:
    match station.kind:
        case Kind.SINGER if area.use is Use.BOOTH:
            return "In the booth, away from what is loud."
        case Kind.SINGER if area.sights:
            return f"Sees {area.sights[0].sees}."
        case Kind.AMP:
            return "By a wall, away from what is quiet." if area.use is not Use.BOOTH else "In the booth."
        case Kind.KIT:
            return "By a wall, as one group."
        case Kind.PLAYBACK if area.use is Use.CONTROL:
            return "Beside the desk."
        case Kind.ARRAY:
            return "Before what it hears."
        case _:
            return "Near the others."
