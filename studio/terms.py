"""Terms of cancelling as a house writes them: “72 h: 50 %”, one step a line. Pure."""

from __future__ import annotations

import re
from datetime import timedelta
from itertools import pairwise

STEP = re.compile(r"(\d{1,4})\s*h?\s*:\s*(\d{1,3})\s*%?")
Steps = list[tuple[int, int]]


def read_steps(text: str) -> Steps:
    """(hours of notice, percent of the price), longest notice first.

    Raises ValueError with a sentence when a line isn't like “72 h: 50 %”, or less notice would cost less.
    """
    steps = sorted((_step(line) for line in text.splitlines() if line.strip()), reverse=True)
    for earlier, later in pairwise(steps):
        if earlier[0] == later[0]:
            raise ValueError(f"{earlier[0]} h stands there twice. Take one of the two lines out.")
        if later[1] < earlier[1]:
            raise ValueError(
                f"{later[0]} h of notice can't cost less than {earlier[0]} h. Check the percents."
            )
    return steps


def _step(line: str) -> tuple[int, int]:
    found = STEP.fullmatch(line.strip())
    if not found:
        raise ValueError(f"“{line.strip()[:40]}” is not a step. Write it like “72 h: 50 %”.")
    hours, percent = (int(number) for number in found.groups())
    if percent > 100:
        raise ValueError(f"{percent} % is more than the whole price. Write 100 % at most.")
    return hours, percent


def percent_at(steps: Steps, notice: timedelta) -> int:
    """What part of the price is owed with this much notice (negative once the time has begun)."""
    return max((percent for hours, percent in steps if notice <= timedelta(hours=hours)), default=0)


def say_steps(steps: Steps) -> str:
    """Like “50 % with 72 h of notice or less, 100 % with 24 h or less”."""
    if not steps or not any(percent for _, percent in steps):
        return "cancelling is free"
    first, *others = [f"{percent} % with {hours} h" for hours, percent in steps]
    return ", ".join([f"{first} of notice or less", *(f"{other} or less" for other in others)])
