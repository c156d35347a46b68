"""How much a calendar may ask for, and what is said when it asks for more. The limits are our own."""

from __future__ import annotations

from dataclasses import dataclass, field
from time import monotonic

MOST_BYTES = 10 * 1024 * 1024
MOST_ENTRIES = 30_000  # and as many calendars, zones and other parts
MOST_NESTING = 20
MOST_PARAMETERS = 100  # of one line; what goes on after them is none that is read here
MOST_REPEATS = 50_000  # of one entry within the window, and dates written out in one entry
MOST_INTERVALS = 200_000
MOST_STEPS_OF_RULE = 150_000  # days and times looked at for one rule
MOST_STEPS = 1_000_000
MOST_SECONDS = 3.0
SHOWN_REPORTS = 200
STEPS_BETWEEN_LOOKS = 512


class Problem(Exception):
    """One entry, or one line of it, can't be read. The words go on after “entry: ”."""


class Unreadable(Exception):
    """The whole file can't be read. The words are a sentence."""


@dataclass(slots=True)
class Budget:
    """What is left of the work that one file may cause: steps are counted, the clock is a second guard."""

    steps: int = MOST_STEPS
    deadline: float = field(default_factory=lambda: monotonic() + MOST_SECONDS)
    unlooked: int = 0

    def spend(self, steps: int = 1) -> None:
        self.steps -= steps
        self.unlooked += steps
        if self.steps < 0:
            raise Unreadable(
                "The calendar asks for too much work: its repeats and dates are too many. Nothing was taken."
            )
        if self.unlooked >= STEPS_BETWEEN_LOOKS:
            self.unlooked = 0
            if monotonic() > self.deadline:
                raise Unreadable(
                    f"The calendar takes longer than {MOST_SECONDS:g} seconds to read. Nothing was taken; "
                    "export fewer entries."
                )


@dataclass(slots=True)
class RuleBudget:
    """What one rule may cost of the file's budget."""

    whole: Budget
    steps: int = MOST_STEPS_OF_RULE

    def spend(self, steps: int = 1) -> None:
        self.steps -= steps
        if self.steps < 0:
            raise Problem("its repeat rule asks for too many repeats to look through")
        self.whole.spend(steps)
