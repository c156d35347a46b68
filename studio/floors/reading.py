"""What a person types about a floor, read: corners, wall boxes, doors, windows, fixed things. Pure; metres.

One thing a line. Each reader gives what it understood and a sentence for each line that it didn't.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

from studio.floors.records import Fixed, Opening, Point, WallBox

MOST_M = 200
MOST_LINES = 200
T = TypeVar("T")
Read = tuple[tuple[T, ...], list[str]]

NUMBER = re.compile(r"[-+−]?\d+(?:[.,]\d+)?")
UNITS = re.compile(r"(?<=\d)\s*(?:metres?|meters?|m)\b|[()\[\]]|\b[xy]\s*[=:]", re.IGNORECASE)
BETWEEN = re.compile(r"\s+(?:to|bis|until)\s+|\s*(?:->|→|–|—)\s*|\s+-\s+", re.IGNORECASE)
LINES = re.compile(
    r"[;,\s]\s*(?:lines?|l\.)\s*(\d+)(?:\s*(?:-|–|—|to|until|bis)\s*(\d+))?\s*$", re.IGNORECASE
)
SEES = re.compile(r"[;,]\s*(?:sees|to|into|looks? (?:in)?to)\s+(.+)$", re.IGNORECASE)
SIZE = re.compile(
    r"[;,\s]\s*(\d+(?:[.,]\d+)?)\s*(?:metres?|m)?\s*(?:x|×|\*|by)\s*(\d+(?:[.,]\d+)?)\s*(?:metres?|m)?\s*$",
    re.IGNORECASE,
)


class NotUnderstood(ValueError):
    """A line that can't be read; the message says what to write instead."""


def figure(text: str) -> float:
    value = float(text.replace("−", "-").replace(",", "."))
    if abs(value) > MOST_M:
        raise NotUnderstood(f"{text} is over {MOST_M}: give metres.")
    return value


def point(text: str) -> Point:
    """Two numbers, like “0, 4.5”, “0,0 4,5” or “(0; 4.5 m)”. Raises NotUnderstood."""
    plain = UNITS.sub(" ", text).replace(";", " ; ").replace("/", " ; ")
    parts = [part.strip(",") for part in plain.split() if part.strip(",;")]
    if len(parts) == 1 and ";" not in parts[0]:
        parts = _run_together(parts[0].split(","))
    if len(parts) != 2 or not all(NUMBER.fullmatch(part) for part in parts):
        raise NotUnderstood(f"“{text.strip()}” is no point. Write two numbers in metres, like 0, 4.5.")
    return figure(parts[0]), figure(parts[1])


def _run_together(parts: list[str]) -> list[str]:
    """ "3,4" is two whole numbers, "3,5,4,0" two with a decimal comma."""
    return [".".join(parts[:2]), ".".join(parts[2:])] if len(parts) == 4 else parts


def corners(text: str) -> Read[Point]:
    """The outline: one corner a line. The first one once more at the end is left out."""
    found, wrong = _each(text, lambda line, number: point(line))
    if len(found) > 1 and found[0] == found[-1]:
        found = found[:-1]
    return found, wrong


def wall_boxes(text: str) -> Read[WallBox]:
    """Like “Box A: 0, 3; lines 1-16”."""
    return _each(text, _box)


def _box(line: str, number: int) -> WallBox:
    name, rest = _named(line, f"Box {number}")
    lines = LINES.search(rest)
    if lines is None:
        raise NotUnderstood(f"Say which lines end at {name}, like “{name}: 0, 3; lines 1-16”.")
    first, last = int(lines[1][:6]), int((lines[2] or lines[1])[:6])
    if not 1 <= first <= last <= 9999:
        raise NotUnderstood(
            f"Lines {lines[1]} to {lines[2] or lines[1]} make no sense: give the lower one first."
        )
    return WallBox(name, point(rest[: lines.start()]), first, last)


def doors(text: str) -> Read[Opening]:
    """Like “Main door: 0, 5 to 0, 6.2”."""
    return _each(text, lambda line, number: _opening(*_named(line, f"Door {number}")))


def windows(text: str) -> Read[Opening]:
    """Like “Large window: 4, 0 to 8, 0; sees Control”. One that sees nothing is a window and no sight line."""
    return _each(text, _window)


def _window(line: str, number: int) -> Opening:
    name, rest = _named(line, f"Window {number}")
    sees = SEES.search(rest)
    return _opening(name, rest[: sees.start()] if sees else rest, sees[1].strip() if sees else "")


def _opening(name: str, rest: str, sees: str = "") -> Opening:
    ends = BETWEEN.split(rest.strip())
    if len(ends) != 2:
        raise NotUnderstood(f"Say where {name} begins and ends, like “{name}: 0, 5 to 0, 6.2”.")
    start, end = point(ends[0]), point(ends[1])
    if start == end:
        raise NotUnderstood(f"{name} begins and ends at the same point. Give both of its ends.")
    return Opening(name, start, end, sees)


def fixed(text: str) -> Read[Fixed]:
    """Like “Concert grand: 3, 4; 1.6 x 2.7”: its middle, its width and its depth."""
    return _each(text, _fixed)


def _fixed(line: str, number: int) -> Fixed:
    name, rest = _named(line, f"Thing {number}")
    size = SIZE.search(rest)
    if size is None:
        raise NotUnderstood(f"Say how large {name} is, like “{name}: 3, 4; 1.6 x 2.7”.")
    width, depth = figure(size[1]), figure(size[2])
    if not 0 < min(width, depth) <= max(width, depth) <= 30:
        raise NotUnderstood(
            f"{name} can't be {width:g} by {depth:g} m large. Give its width and depth in metres."
        )
    return Fixed(name, point(rest[: size.start()]), width, depth)


def _named(line: str, usual: str) -> tuple[str, str]:
    """The name before the first colon, and the rest."""
    name, colon, rest = line.partition(":")
    if not colon:
        return usual, line
    return name.strip()[:60] or usual, rest


def _each(text: str, read: Callable[[str, int], T]) -> Read[T]:
    found: list[T] = []
    wrong: list[str] = []
    for at, line in _lines(text):
        if len(found) + len(wrong) >= MOST_LINES:
            wrong.append(f"Over {MOST_LINES} lines: leave out what nobody needs to see.")
            break
        try:
            found.append(read(line, len(found) + 1))
        except NotUnderstood as problem:
            wrong.append(f"Line {at}: {problem}")
    return tuple(found), wrong


def _lines(text: str) -> Iterator[tuple[int, str]]:
    for at, line in enumerate(text.splitlines(), start=1):
        if line.strip():
            yield at, line.strip()


def said(value: float) -> str:
    """A length as one would type it: “4.5”."""
    return f"{round(value, 3):g}"


def said_point(at: Point) -> str:
    return f"{said(at[0])}, {said(at[1])}"


def said_corners(outline: Sequence[Point]) -> str:
    return "\n".join(said_point(at) for at in outline)


def said_boxes(boxes: Sequence[WallBox]) -> str:
    return "\n".join(f"{box.name}: {said_point(box.at)}; lines {box.first}-{box.last}" for box in boxes)


def said_openings(openings: Sequence[Opening]) -> str:
    lines = []
    for each in openings:
        sees = f"; sees {each.sees}" if each.sees else ""
        lines.append(f"{each.name}: {said_point(each.start)} to {said_point(each.end)}{sees}")
    return "\n".join(lines)


def said_fixed(things: Sequence[Fixed]) -> str:
    return "\n".join(
        f"{each.name}: {said_point(each.at)}; {said(each.width)} x {said(each.depth)}" for each in things
    )
