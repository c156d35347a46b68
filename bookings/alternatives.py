"""What another time or room costs whoever asked for this one: the price of each difference, stated. Pure.

The weights are a first guess (common practice, no single source): an hour's shift is the unit. So the same room
four hours later (4) comes before another room now (5), that before tomorrow at the same hour (7), and another site
or doing without somebody who was asked for comes last.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

AN_HOUR_OF_SHIFT = 1.0  # of the hour of day, earlier or later
AN_HOUR_AT_NIGHT = 2.0  # of those between midnight and seven, more than was asked for
ANOTHER_DAY = 6.0
EACH_DAY_MORE = 1.0  # for each day of distance, the first one included
ANOTHER_ROOM = 5.0
ANOTHER_SITE = 12.0
A_PERSON_LOST = 8.0  # each wanted person who can't come then
A_UNIT_LOST = 7.0  # each unit wanted by tag that another session has then
PAST_A_HOLD = 6.0  # each hold that stands there: it would have to be challenged or overruled

WEIGHTS = (
    f"An hour earlier or later counts {AN_HOUR_OF_SHIFT:g}, an hour more between midnight and seven "
    f"{AN_HOUR_AT_NIGHT:g}, another room {ANOTHER_ROOM:g}, another day "
    f"{ANOTHER_DAY:g} and {EACH_DAY_MORE:g} for each day away, a hold standing there {PAST_A_HOLD:g}, doing "
    f"without a wanted person {A_PERSON_LOST:g}, without a wanted unit {A_UNIT_LOST:g}, another site "
    f"{ANOTHER_SITE:g}. Least comes first."
)

Thing = TypeVar("Thing")


@dataclass(frozen=True, slots=True)
class Differences:
    """How an alternative differs: hours of shift on the clock, more hours at night, days away, what it does without."""

    hours: float = 0
    night: float = 0
    days: int = 0
    other_room: bool = False
    other_site: bool = False
    lost_people: int = 0
    lost_gear: int = 0
    holds: int = 0

    @property
    def cost(self) -> float:
        """Never negative; 0 only for the wish itself."""
        days = ANOTHER_DAY + EACH_DAY_MORE * abs(self.days) if self.days else 0
        return (
            AN_HOUR_OF_SHIFT * abs(self.hours)
            + AN_HOUR_AT_NIGHT * self.night
            + days
            + ANOTHER_ROOM * self.other_room
            + ANOTHER_SITE * self.other_site
            + A_PERSON_LOST * self.lost_people
            + A_UNIT_LOST * self.lost_gear
            + PAST_A_HOLD * self.holds
        )


@dataclass(frozen=True, slots=True)
class Option(Generic[Thing]):
    """An alternative with its differences from the wish; key breaks ties, smallest first."""

    thing: Thing
    differences: Differences
    key: tuple[object, ...]


def nearest(options: Iterable[Option[Thing]], most: int) -> Sequence[Option[Thing]]:
    """The cheapest ones, in order of cost."""
    return sorted(options, key=lambda option: (round(option.differences.cost, 6), option.key))[:most]
