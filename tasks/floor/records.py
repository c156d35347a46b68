"""Where each source stands, as frozen records. Pure; metres, degrees clockwise from the right."""

from __future__ import annotations

from dataclasses import dataclass

from studio.floors.records import Floor, Point
from tasks.floor.cables import Run
from tasks.floor.stations import Station


@dataclass(frozen=True, slots=True)
class Place:
    """One source on the floor. by_hand: somebody put it there; runs: its cables by input number.

    fixed: the name of what it is, where it stands in the house already.
    """

    station: Station
    area: str
    at: Point
    facing: float
    why: str
    by_hand: bool = False
    fixed: str = ""


@dataclass(frozen=True, slots=True)
class Gobo:
    """A screen that stands between two sources."""

    start: Point
    end: Point
    between: tuple[str, str]


@dataclass(frozen=True, slots=True)
class Cable:
    """The cable of one input on the floor."""

    number: int
    area: str
    run: Run
    crosses_way: bool


@dataclass(frozen=True, slots=True)
class FloorPlan:
    """left_over: sources for which there is no room; said: sentences about what to look at."""

    floor: Floor
    places: tuple[Place, ...]
    gobos: tuple[Gobo, ...]
    cables: tuple[Cable, ...]
    ways: tuple[tuple[str, tuple[tuple[Point, ...], ...]], ...]
    left_over: tuple[Station, ...]
    said: tuple[str, ...]
