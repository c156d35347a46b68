"""Whose hold comes first. Pure.

In each room and at each instant the holds that stand there are first, second, third… in the order in which
they were asked for, so there is no gap. A hold that shares different hours with different others may be first
in one hour and third in another; as a whole it has the worst of these places, since that is where it has to
wait. Whoever shares no instant of no room with it doesn't count.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from studio.spans import Span, peak_use

ORDINALS = ["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"]
Asked = tuple[datetime, int]  # when it was asked for; of two at one instant the lower number comes first


@dataclass(frozen=True, slots=True)
class Rung:
    """A hold's time in one room."""

    hold_id: int
    asked: Asked
    resource_id: int
    span: Span

    def shares(self, other: Rung) -> bool:
        return self.resource_id == other.resource_id and self.span.overlaps(other.span)


def above(hold: Sequence[Rung], others: Iterable[Rung]) -> list[int]:
    """The holds that were asked for earlier and share an instant of a room with this one, in order."""
    found = {
        other.asked: other.hold_id
        for other in others
        for mine in hold
        if other.asked < mine.asked and mine.shares(other)
    }
    return [found[asked] for asked in sorted(found)]


def rank(hold: Sequence[Rung], others: Sequence[Rung]) -> int:
    """The worst place of this hold in any of its rooms at any instant; 1 is first."""
    return 1 + max((_most_above(mine, others) for mine in hold), default=0)


def _most_above(mine: Rung, others: Iterable[Rung]) -> int:
    spans = [(other.span, 1) for other in others if other.asked < mine.asked and mine.shares(other)]
    return peak_use(spans, mine.span)


def ordinal(rank: int) -> str:
    """first, second … tenth, 11th."""
    return ORDINALS[rank - 1] if rank <= len(ORDINALS) else short_ordinal(rank)


def short_ordinal(rank: int) -> str:
    """1st, 2nd, 3rd, 4th … 11th, 12th, 13th … 21st."""
    ending = "th" if rank % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(rank % 10, "th")
    return f"{rank}{ending}"
