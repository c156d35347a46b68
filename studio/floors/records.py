"""The floor of a room as frozen records. Pure; all lengths in metres, x to the right, y down the page."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

Point = tuple[float, float]


class Use(StrEnum):
    """What a room is for, as far as players are put into it."""

    LIVE = "live"
    BOOTH = "booth"
    CONTROL = "control"


@dataclass(frozen=True, slots=True)
class WallBox:
    """Sockets on a wall: the lines from first to last end there."""

    name: str
    at: Point
    first: int
    last: int

    @property
    def lines(self) -> str:
        return f"line {self.first}" if self.first == self.last else f"lines {self.first}–{self.last}"


@dataclass(frozen=True, slots=True)
class Opening:
    """A door or a window in a wall. sees: for a sight line, what is seen through it; empty for none."""

    name: str
    start: Point
    end: Point
    sees: str = ""

    @property
    def middle(self) -> Point:
        return (self.start[0] + self.end[0]) / 2, (self.start[1] + self.end[1]) / 2


@dataclass(frozen=True, slots=True)
class Fixed:
    """What stands and stays, like a concert grand: the middle of it, its width (x) and its depth (y)."""

    name: str
    at: Point
    width: float
    depth: float

    @property
    def corner(self) -> Point:
        """The upper left one."""
        return self.at[0] - self.width / 2, self.at[1] - self.depth / 2


@dataclass(frozen=True, slots=True)
class Area:
    """One room as drawn. outline: its corners in order, not repeated at the end."""

    name: str
    outline: tuple[Point, ...]
    use: Use = Use.LIVE
    boxes: tuple[WallBox, ...] = ()
    doors: tuple[Opening, ...] = ()
    windows: tuple[Opening, ...] = ()
    fixed: tuple[Fixed, ...] = ()

    @property
    def sights(self) -> tuple[Opening, ...]:
        return tuple(window for window in self.windows if window.sees)


@dataclass(frozen=True, slots=True)
class Floor:
    """The rooms that a session has, on one drawing. guessed: nothing is known, it is a plain rectangle.

    apart: rooms that were moved beside the others, since their drawings lay on top of each other.
    """

    areas: tuple[Area, ...]
    guessed: bool = False
    apart: tuple[str, ...] = ()

    def box_of(self, line: int) -> tuple[Area, WallBox] | None:
        """The wall box in which a line ends."""
        for area in self.areas:
            for box in area.boxes:
                if box.first <= line <= box.last:
                    return area, box
        return None
