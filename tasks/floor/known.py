"""From a session's rows to its floor plan, and the lengths of cable for a plan that isn't made yet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from bookings.models import Session
from studio.floors.known import floor_of
from studio.models import Room
from tasks.catalogue import load_catalogue
from tasks.floor.cables import lines_by_nearness
from tasks.floor.placing import Kept
from tasks.floor.plan import floor_plan, least_m2, lengths_m
from tasks.floor.records import FloorPlan
from tasks.floor.stations import FloorInput, stations
from tasks.models import PlannedInput, SourcePlace
from tasks.planning.snapshot import Need


def plan_of(session: Session, rows: Iterable[PlannedInput]) -> FloorPlan:
    """The floor plan of a session's planned inputs, which come with their units. Constant in queries."""
    found = stations([_input(row) for row in rows], load_catalogue())
    return floor_plan(floor_of(session.room, least_m2(found)), found, kept_places(session))


def _input(row: PlannedInput) -> FloorInput:
    return FloorInput(
        number=row.number,
        label=row.label,
        source=row.source,
        pickup=row.pickup,
        stand=row.stand if row.stand != "none" else "",
        line=row.line,
        unit=row.unit.tag if row.unit else "",
    )


def kept_places(session: Session) -> Kept:
    """Where somebody has put sources by hand, in the session's present room. One query."""
    rows = SourcePlace.objects.filter(session=session, room=session.room_id)
    return tuple((row.key, (row.x, row.y)) for row in rows)


@dataclass(frozen=True, slots=True)
class Runs:
    """By the number of the need: metres of cable, and the lines where it stands, those of the nearest box first."""

    metres: Mapping[int, float]
    lines: Mapping[int, Sequence[int]]


def runs_for(room: Room, needs: Sequence[Need], session: Session | None = None) -> Runs:
    """Before anything has a line; empty where the floor isn't drawn. A constant number of queries.

    Metres are to the nearest wall box of the room in which it would stand, since the line is still to be chosen.
    """
    floor = floor_of(room)
    if floor.guessed:
        return Runs({}, {})
    inputs = [
        FloorInput(each.number, each.label, each.source, each.pickup.value, each.stand or "")
        for each in needs
    ]
    plan = floor_plan(floor, stations(inputs, load_catalogue()), kept_places(session) if session else ())
    lines = {
        each.number: lines_by_nearness(floor, place.area, place.at)
        for place in plan.places
        for each in place.station.inputs
    }
    return Runs(lengths_m(plan), lines)
