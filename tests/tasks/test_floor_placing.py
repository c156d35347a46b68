"""Where sources stand: never outside, never on each other, doors and ways clear; the rest as the trade would."""

from __future__ import annotations

from itertools import combinations
from math import dist

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from studio.floors.records import Area, Floor, Opening, Point
from studio.floors.shapes import holds, sees, to_segment, to_thing, to_way
from tasks.floor.placing import placed, refused
from tasks.floor.plan import floor_plan
from tasks.floor.records import Place
from tasks.floor.stations import Kind
from tasks.floor.ways import AT_A_DOOR_M, HALF_M, hub, measured, ways
from tests.tasks.floor_cast import BAND, FLOOR, HALL, QUARTET, stations_of

LITTLE = 1e-5


def by_key(places: tuple[Place, ...]) -> dict[str, Place]:
    return {place.station.key: place for place in places}


def sound(floor: Floor, places: tuple[Place, ...]) -> None:
    """The rules that never bend, written once more without the code that keeps them."""
    areas = {area.name: area for area in floor.areas}
    for place in places:
        area, r = areas[place.area], place.station.radius
        if place.fixed:
            continue
        assert holds(area.outline, place.at, r - LITTLE), place
        assert all(to_segment(place.at, d.start, d.end) >= r + AT_A_DOOR_M - LITTLE for d in area.doors), (
            place
        )
        assert all(to_thing(place.at, thing) >= r - LITTLE for thing in area.fixed), place
        if not place.by_hand:
            assert all(to_way(place.at, way) >= r + HALF_M - LITTLE for way in ways(area)), place
    for one, two in combinations([p for p in places if not p.fixed], 2):
        if one.area == two.area:
            assert dist(one.at, two.at) >= one.station.radius + two.station.radius - LITTLE, (one, two)


def test_a_band_stands_as_one_would_set_it_up() -> None:
    places, left_over = placed(FLOOR, stations_of(BAND))
    assert not left_over
    sound(FLOOR, places)
    found = by_key(places)
    assert found["Drums"].station.kind is Kind.KIT
    assert len(found["Drums"].station.inputs) == 7  # kick, snare, hi-hat, two toms, a pair above
    assert found["Grand piano"].fixed == "Concert grand"
    assert found["Lead vocal"].area == "Booth"  # away from drums and amplifiers
    assert found["Click"].area == "Control"
    for amp in ("Bass", "Electric guitar"):
        at = found[amp].at
        nearest = min(at[0], at[1], 12 - at[0], 9 - at[1])
        assert nearest <= found[amp].station.radius + 0.6  # by a wall
    assert dist(found["Acoustic guitar"].at, found["Drums"].at) >= 3.5  # the quiet from the loud


def test_a_singer_sees_the_control_room_and_looks_there() -> None:
    (place,) = placed(Floor((HALL,)), stations_of("lead vocal"))[0]
    assert sees(place.at, (6, 0), HALL.outline)
    assert 2 <= to_segment(place.at, (4, 0), (8, 0)) <= 4
    assert place.facing < 0  # up the page, where the window is


def test_the_same_list_stands_the_same_and_a_quartet_is_three_to_one() -> None:
    first, again = placed(FLOOR, stations_of(QUARTET)), placed.__wrapped__(FLOOR, stations_of(QUARTET))
    assert first == again
    strings = [place for place in first[0] if place.station.kind is Kind.PLAYER]
    assert len(strings) == 4
    violins = [place for place in strings if place.station.source_id == "violin"]
    assert dist(violins[0].at, violins[1].at) >= 1.8  # three times the 0.6 m of their microphones (catalogue)


def test_what_is_put_by_hand_stays_and_nothing_else_moves_for_it() -> None:
    stations = stations_of(BAND)
    usual = by_key(placed(FLOOR, stations)[0])
    others = [place for key, place in usual.items() if key != "Acoustic guitar" and place.area == "Hall"]
    roomy = [spot.at for spot in measured(HALL) if min(spot.wall, spot.thing, spot.door - 1) > 1]
    free = max(roomy, key=lambda at: min(dist(at, each.at) - each.station.radius for each in others))
    after = by_key(placed(FLOOR, stations, (("Acoustic guitar", free),))[0])
    assert after["Acoustic guitar"].by_hand
    assert after["Acoustic guitar"].at == free
    for key, place in usual.items():
        if key != "Acoustic guitar":
            assert after[key].at == place.at
    onto_drums = by_key(placed(FLOOR, stations, (("Acoustic guitar", usual["Drums"].at),))[0])
    assert onto_drums["Acoustic guitar"].by_hand
    assert dist(onto_drums["Drums"].at, usual["Drums"].at) > 1


@pytest.mark.parametrize(
    ("at", "said"),
    [
        ((0.2, 5), "outside the room"),
        ((5.7, 8), "before a door"),
        ((10, 6.5), "on Concert grand"),
        ((40, 4), "outside"),
    ],
)
def test_a_place_that_can_not_be_is_refused_in_words(at: Point, said: str) -> None:
    places, _ = placed(FLOOR, stations_of(BAND))
    station = by_key(places)["Acoustic guitar"].station
    assert said in refused(FLOOR, places, station, at)
    drums = by_key(places)["Drums"].at
    assert "would stand on Drums" in refused(FLOOR, places, station, (drums[0] + 0.5, drums[1]))
    assert refused(FLOOR, places, station, by_key(places)["Acoustic guitar"].at) == ""


def test_what_has_no_room_is_said_and_a_place_by_hand_that_is_gone_too() -> None:
    closet = Floor((Area("Closet", ((0, 0), (2, 0), (2, 2), (0, 2))),))
    plan = floor_plan(closet, stations_of("drums\nlead vocal"), (("Lead vocal", (9, 9)),))
    assert "Drums" in [station.key for station in plan.left_over]
    assert any(said.startswith("No room for Drums") for said in plan.said)
    assert any("Put elsewhere than by hand" in said and "outside" in said for said in plan.said)


def test_screens_stand_between_loud_and_quiet_and_on_nobody() -> None:
    hall = Floor((HALL,))
    plan = floor_plan(hall, stations_of("drums\nacoustic guitar\nflute"), (("Acoustic guitar", (4.2, 6.2)),))
    places = by_key(plan.places)
    assert ("Drums", "Acoustic guitar") in [gobo.between for gobo in plan.gobos]
    for gobo in plan.gobos:
        assert places[gobo.between[0]].station.loud
        assert places[gobo.between[1]].station.quiet
        for place in plan.places:
            assert to_segment(place.at, gobo.start, gobo.end) >= place.station.radius


corners = st.integers(3, 12).flatmap(
    lambda width: st.tuples(st.just(width), st.integers(3, 10), st.integers(1, 2), st.integers(1, 2))
)


@hypothesis_settings(max_examples=40)
@given(
    corners,
    st.lists(st.sampled_from(BAND.splitlines()), min_size=1, max_size=7, unique=True),
    st.floats(0, 1),
)
def test_in_any_room_the_rules_that_never_bend_hold(
    sizes: tuple[int, int, int, int], rows: list[str], share: float
) -> None:
    width, depth, cut, notch = sizes
    outline = (
        (0, 0),
        (width, 0),
        (width, depth - notch),
        (width - cut, depth - notch),
        (width - cut, depth),
        (0, depth),
    )
    start = share * (width - 1)
    room = Area("Room", outline, doors=(Opening("Door", (start, 0), (start + 0.9, 0)),))
    floor, stations = Floor((room,)), stations_of("\n".join(rows))
    places, left_over = placed(floor, stations)
    sound(floor, places)
    assert {p.station.key for p in places} | {s.key for s in left_over} == {s.key for s in stations}
    for way in ways(room):
        assert way[0] == room.doors[0].middle
        assert way[-1] == hub(room)
