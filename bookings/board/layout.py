"""Where claims lie on a board: instants to percent, claims to blocks, blocks to lanes. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from studio.spans import Span, merged

ROOM_FOR_WORDS = 12.0
Origin = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Window:
    """The time that is on view: [start, end), both known."""

    start: datetime
    end: datetime

    def percent(self, instant: datetime) -> float:
        """How far along an instant lies, held inside the window."""
        inside = min(max(instant, self.start), self.end)
        return round(100 * ((inside - self.start) / (self.end - self.start)), 4)

    def shows(self, span: Span) -> bool:
        return span.overlaps(Span(self.start, self.end))

    def part_of(self, span: Span) -> Window:
        """What is seen of a span that the window shows."""
        return Window(max(span.start, self.start), min(span.end or self.end, self.end))


@dataclass(frozen=True, slots=True)
class Taken:
    """A claim as the board needs it: on which row, in which pattern, what for and whose (`origin`).

    part: the number of a channel where a row is a unit of several, the amount where it is a stock; else 0.
    """

    row: int
    origin: Origin
    span: Span
    pattern: str
    reason: str
    purpose: str
    part: int = 0


@dataclass(frozen=True, slots=True)
class Piece:
    """Part of a block. left and width in percent of the block's box."""

    pattern: str
    span: Span
    left: float
    width: float

    @property
    def style(self) -> str:
        return f"--left: {self.left}%; --width: {self.width}%"


@dataclass(frozen=True, slots=True)
class Block:
    """One origin's unbroken time in a row, on a lane that counts from 0.

    The box, in percent of the window, reaches to the next block of the lane: the words have room in it.
    """

    row: int
    origin: Origin
    reason: str
    purpose: str
    span: Span
    pieces: tuple[Piece, ...]
    lane: int
    left: float
    width: float
    parts: tuple[int, ...] = ()

    @property
    def style(self) -> str:
        return f"--left: {self.left}%; --width: {self.width}%; --lane: {self.lane}"

    @property
    def bar_end(self) -> float:
        """Where its last piece ends, in percent of the box."""
        return max((piece.left + piece.width for piece in self.pieces), default=100.0)


def lay_out(taken: Iterable[Taken], window: Window, least: float = 0.0) -> dict[int, list[Block]]:
    """The blocks of each row in order of time, each on the first lane that is free for it.

    least: no box is narrower, in percent of the window; what would be goes on another lane.
    """
    groups: dict[tuple[int, Origin], list[Taken]] = {}
    for one in taken:
        if window.shows(one.span):
            groups.setdefault((one.row, one.origin), []).append(one)
    rows: dict[int, list[list[Taken]]] = {}
    for (row, _), group in groups.items():
        rows.setdefault(row, []).extend(_unbroken(group))
    return {row: list(_blocks(runs, window, least)) for row, runs in rows.items()}


def _unbroken(group: list[Taken]) -> Iterator[list[Taken]]:
    run: list[Taken] = []
    for one in sorted(group, key=lambda taken: taken.span.start):
        if run and not _reaches(run, one.span.start):
            yield run
            run = []
        run.append(one)
    yield run


def _reaches(run: list[Taken], instant: datetime) -> bool:
    return any(one.span.end is None or one.span.end >= instant for one in run)


def _whole(run: list[Taken]) -> Span:
    ends = [one.span.end for one in run]
    known = [end for end in ends if end is not None]
    return Span(run[0].span.start, max(known) if len(known) == len(ends) else None)


def _blocks(runs: list[list[Taken]], window: Window, least: float) -> Iterator[Block]:
    lanes: list[list[list[Taken]]] = []
    free_from: list[datetime | None] = []
    width = (window.end - window.start) * (least / 100)
    for run in sorted(runs, key=lambda run: (run[0].span.start, run[0].reason)):
        seen, end = min(max(run[0].span.start, window.start), window.end - width), _whole(run).end
        lane = _first_free(free_from, seen)
        lanes[lane:] = lanes[lane:] or [[]]
        lanes[lane].append(run)
        free_from[lane : lane + 1] = [end and max(end, seen + width)]
    found = [
        _block(run, window, lane, box)
        for lane, row in enumerate(lanes)
        for run, box in zip(row, _boxes(row, window, least), strict=True)
    ]
    yield from sorted(found, key=lambda block: (block.span.start, block.lane))


def _boxes(row: list[list[Taken]], window: Window, least: float) -> Iterator[tuple[float, float]]:
    """Left and right of each box of a lane; the last one moves left for its words, as far as it is free."""
    lefts = [window.percent(run[0].span.start) for run in row]
    if lefts[-1] > 100 - ROOM_FOR_WORDS:
        before = 0.0
        if len(row) > 1:
            before = max(window.percent(_whole(row[-2]).end or window.end), lefts[-2] + least)
        lefts[-1] = max(100 - ROOM_FOR_WORDS, before)
    return zip(lefts, [*lefts[1:], 100.0], strict=True)


def _block(run: list[Taken], window: Window, lane: int, box: tuple[float, float]) -> Block:
    left, right = box
    pieces = tuple(
        _piece(pattern, span, window, box) for pattern, span in _patterns(run) if window.shows(span)
    )
    one = run[0]
    width = round(right - left, 4)
    parts = tuple(sorted({taken.part for taken in run if taken.part}))
    return Block(one.row, one.origin, one.reason, one.purpose, _whole(run), pieces, lane, left, width, parts)


def _patterns(run: list[Taken]) -> Iterator[tuple[str, Span]]:
    """The spans of a run by pattern, in order; what looks the same and touches is one."""
    for pattern in dict.fromkeys(one.pattern for one in run):
        for span in merged(one.span for one in run if one.pattern == pattern):
            yield pattern, span


def _piece(pattern: str, span: Span, window: Window, box: tuple[float, float]) -> Piece:
    left, right = box
    seen = window.part_of(span)
    scale = 100 / max(right - left, 0.001)
    start, end = ((window.percent(at) - left) * scale for at in (seen.start, seen.end))
    return Piece(pattern, span, round(start, 3), round(end - start, 3))


def _first_free(free_from: list[datetime | None], start: datetime) -> int:
    for lane, free in enumerate(free_from):
        if free is not None and free <= start:
            return lane
    return len(free_from)
