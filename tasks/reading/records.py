"""What reading a list gives: sources, what is no input, and questions. Offsets are in the text as given."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ReadSource:
    """One entry of the list. channels are for one of count entries; None where the list doesn't say.

    sides: what the list calls its channels (("L", "R"), ("top", "bottom")); index: numbers in the name ("Tom 1").
    wish: words of a wanted kind or model; it binds where the list says must.
    """

    start: int
    as_written: str
    source_id: str
    source: str
    family: str
    count: int | None
    channels: int | None
    pickup: str
    sides: tuple[str, ...] = ()
    index: tuple[int, ...] = ()
    optional: bool = False
    wish: str = ""
    wish_binds: bool = False
    note: str = ""

    @property
    def total(self) -> int | None:
        """Channels of the whole entry, None where the list doesn't say."""
        return None if self.channels is None or self.count is None else self.channels * self.count


@dataclass(frozen=True, slots=True)
class NotInput:
    """A piece of text that brings no channel, and why."""

    start: int
    as_written: str
    why: str


@dataclass(frozen=True, slots=True)
class Question:
    """A piece of text that isn't understood well enough. suggestions: names of sources, likeliest first."""

    start: int
    as_written: str
    suggestions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reading:
    """The whole text, each word in one of the three."""

    sources: tuple[ReadSource, ...]
    not_inputs: tuple[NotInput, ...]
    questions: tuple[Question, ...]
