"""An entry while it is being read: which source, and what was said about its number and pickup."""

from __future__ import annotations

from dataclasses import dataclass, field

from tasks.catalogue import Source
from tasks.reading.items import Item

SIDES = {
    "left": "L",
    "right": "R",
    "upper": "top",
    "lower": "bottom",
    "inside": "in",
    "outside": "out",
    "front": "front",
    "rear": "rear",
    "middle": "mid",
}


LEADS = ("lead", "leader", "main", "leading", "ld", "ppal", "princ", "principal")


@dataclass(slots=True)
class Draft:
    """Spans are offsets; None means not said."""

    start: int
    end: int
    source: Source
    anchor: Item
    line: int
    clause: int = 0
    plural: bool = False
    numbered: bool = False
    headed: bool = False
    person: bool = False
    count: int | None = None
    channels: int | None = None
    index: list[int] = field(default_factory=list)
    sides: list[str] = field(default_factory=list)
    stereo: bool = False
    mono: bool = False
    both: bool = False
    width: int = 1
    pickups: set[str] = field(default_factory=set)
    added: bool = False
    amp: bool = False
    optional: bool = False
    parent: bool = False
    section: bool = False
    bullet: bool = False
    wish: str = ""
    wish_binds: bool = False
    lead: bool = False
    shared: bool = False
    adjective: str = ""
    note: str = ""
    opens: str = ""
    placed: bool = False
    singers: int = 0

    def cover(self, start: int, end: int) -> None:
        """Stretches the entry over a piece of text."""
        self.start, self.end = min(self.start, start), max(self.end, end)

    @property
    def bare(self) -> bool:
        """Nothing was said but the name."""
        return (
            self.count is None
            and self.channels is None
            and not (
                self.index
                or self.sides
                or self.stereo
                or self.both
                or self.pickups
                or self.amp
                or self.width > 1
            )
        )


@dataclass(slots=True)
class Aside:
    """A piece of a row that is no entry: a note, a name, a negation, or words to ask about."""

    start: int
    end: int
    why: str
    ask: bool = False
    suggestions: tuple[str, ...] = ()
