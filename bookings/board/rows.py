"""What a board shows: a window of time, and rows of rooms, people or gear, all from the same claims."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.core.paginator import Page

from bookings.board.asked import Asked
from bookings.board.layout import Block, Taken, Window, lay_out
from bookings.board.ticks import DAYS, Tick, day_ticks, days_on_view, hour_ticks, hours_shown
from bookings.board.words import Shown
from studio.models import GearUnit
from studio.spans import Span

NARROWEST = {"day": 1.5, "week": 2.1, "weeks": 2.1}  # percent of the window: a target wide enough to hit
MANY_LANES, MOST_LANES = 14, 75


@dataclass(frozen=True, slots=True)
class Row:
    """address: its own page; book: where to book it. room_id: of a room that sessions can be moved to, else 0."""

    name: str
    remark: str
    blocks: Sequence[Shown]
    when_empty: str = "free"
    address: str = ""
    book: str = ""
    room_id: int = 0
    shared: bool = False

    @property
    def lanes(self) -> int:
        return 1 + max((shown.block.lane for shown in self.blocks), default=0)


@dataclass(frozen=True, slots=True)
class Board:
    """now_at in percent of the window, None when now isn't on view. page: of gear, of which there is much."""

    window: Window
    rows: Sequence[Row]
    ticks: Sequence[Tick]
    now_at: float | None
    page: Page[GearUnit] | None = None

    @property
    def lanes(self) -> int:
        return sum(row.lanes for row in self.rows)

    @property
    def dense(self) -> bool:
        """So much that each lane is low."""
        return self.lanes > MANY_LANES

    @property
    def packed(self) -> bool:
        """So much that one sheet of paper has room for patterns only, not for words."""
        return self.lanes > MOST_LANES


@dataclass(frozen=True, slots=True)
class Across:
    """The time on view and the lines across it."""

    window: Window
    ticks: Sequence[Tick]
    now_at: float | None
    least: float

    def blocks(self, taken: Iterable[Taken]) -> dict[int, list[Block]]:
        return lay_out(taken, self.window, self.least)

    def board(self, rows: Sequence[Row], page: Page[GearUnit] | None = None) -> Board:
        return Board(self.window, rows, self.ticks, self.now_at, page)


def whole_window(asked: Asked) -> Window:
    """All the days that are asked for."""
    return days_on_view(asked.first, DAYS[asked.view], asked.site.tz)


def across(asked: Asked, taken: Sequence[Taken], now: datetime) -> Across:
    """Of a single day, the usual hours and what lies before and after them; else whole days."""
    tz, window = asked.site.tz, whole_window(asked)
    if asked.view == "day":
        spans = [one.span for one in taken] + [Span(now, now + timedelta(minutes=1))]
        window = hours_shown(window, spans, tz)
        ticks = hour_ticks(window, tz)
    else:
        ticks = day_ticks(window, asked.first, DAYS[asked.view], tz)
    now_at = window.percent(now) if window.start <= now < window.end else None
    return Across(window, ticks, now_at, NARROWEST[asked.view])
