"""The signal chain of one input as a picture: boxes from the source down to the recorder. Pure layout, no drawing.

Lengths are units of the drawing, which is WIDTH wide; letters are 14 high, so that a phone shows them as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

WIDTH = 320
MARGIN = 2
PAD = 12
NAME_HIGH, LINE_HIGH = 20, 18
GAP = 22
LETTERS = 38
"""Letters that fit in a line at 14 units, counted for a wide face."""


@dataclass(frozen=True, slots=True)
class Station:
    """One thing that the signal passes. lines: what is set, each a short sentence.

    is_open: wanted, and not there; what says so too.
    """

    what: str
    name: str
    lines: tuple[str, ...] = ()
    is_open: bool = False


@dataclass(frozen=True, slots=True)
class Text:
    y: float
    words: str
    role: str


@dataclass(frozen=True, slots=True)
class Box:
    """arrow: where the arrow to the next box begins and ends, None for the last."""

    y: float
    height: float
    texts: tuple[Text, ...]
    is_open: bool
    arrow: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Picture:
    title: str
    told: str
    height: float
    boxes: tuple[Box, ...]
    width: int = WIDTH
    margin: int = MARGIN
    inner: int = WIDTH - 2 * MARGIN
    pad: int = MARGIN + PAD
    middle: int = WIDTH // 2


def picture(title: str, stations: Sequence[Station]) -> Picture:
    """Top to bottom, in the order of the signal. told: the same in words, for who can't see it."""
    boxes: list[Box] = []
    y: float = MARGIN
    for number, station in enumerate(stations):
        texts = list(_texts(station, y + PAD))
        height = texts[-1].y - y + PAD
        last = number == len(stations) - 1
        arrow = None if last else (y + height, y + height + GAP)
        boxes.append(Box(y, height, tuple(texts), station.is_open, arrow))
        y += height + GAP
    return Picture(title, told(stations), y - GAP + MARGIN if boxes else 2 * MARGIN, tuple(boxes))


def told(stations: Sequence[Station]) -> str:
    return ". Then ".join(_told(station) for station in stations) + "." if stations else ""


def _told(station: Station) -> str:
    return ", ".join([f"{station.what}: {station.name}", *station.lines])


def _texts(station: Station, top: float) -> list[Text]:
    y, found = top + 8, [Text(top + 8, station.what, "what")]
    for role, high, words in (
        ("name", NAME_HIGH, [station.name]),
        ("line", LINE_HIGH, station.lines),
    ):
        for sentence in words:
            for text in wrap(sentence, LETTERS if role == "line" else LETTERS - 4) or [""]:
                y += high
                found.append(Text(y, text, role))
    return found
