"""A session's three times taken somewhere else on a site's clock, over clock changes too. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from bookings.sessions.walltime import SECOND
from studio.clock import say_day, twice_or_never


class NoSuchTime(Exception):
    """The clock there skips this time; the message says so."""


class ComesTwice(Exception):
    """The clock there shows `wall` twice: somebody has to say which is meant."""

    def __init__(self, wall: datetime) -> None:
        super().__init__(f"{wall:%H:%M} on {say_day(wall.date())} comes twice: the clocks go back.")
        self.wall = wall


@dataclass(frozen=True, slots=True)
class Times:
    load_in: datetime
    downbeat: datetime
    end: datetime


@dataclass(frozen=True, slots=True)
class Shift:
    """Later by so many days and minutes, and the end by so many more; negative is earlier."""

    days: int = 0
    minutes: int = 0
    end_days: int = 0
    end_minutes: int = 0


def shifted(times: Times, shift: Shift, tz: tzinfo, which: str = "") -> Times:
    """Whole days keep the hour on the clock; minutes alone are elapsed time. Raises NoSuchTime, ComesTwice.

    which: FIRST or SECOND (see walltime) for a time that comes twice there.
    """
    days, minutes = shift.days, shift.minutes
    return Times(
        later(times.load_in, days, minutes, tz, which),
        later(times.downbeat, days, minutes, tz, which),
        later(times.end, days + shift.end_days, minutes + shift.end_minutes, tz, which),
    )


def later(moment: datetime, days: int, minutes: int, tz: tzinfo, which: str) -> datetime:
    if not days:
        return moment + timedelta(minutes=minutes)
    wall = moment.astimezone(tz).replace(tzinfo=None, fold=0) + timedelta(days=days, minutes=minutes)
    trouble = twice_or_never(wall, tz)
    if trouble == "never":
        raise NoSuchTime(
            f"There is no {wall:%H:%M} on {say_day(wall.date())}: the clocks go forward over it. "
            "Put it down before or after the change."
        )
    if trouble == "twice" and not which:
        raise ComesTwice(wall)
    return wall.replace(tzinfo=tz, fold=int(which == SECOND)).astimezone(UTC)


def clock_sentence(before: Times, after: Times) -> str:
    """Said when a clock change between two hours makes a session longer or shorter than it was dragged to."""
    gained = (after.end - after.load_in) - (before.end - before.load_in)
    minutes = round(gained.total_seconds() / 60)
    if not minutes:
        return ""
    return f"The clocks change then: it is {abs(minutes)} min {'longer' if minutes > 0 else 'shorter'} than it was."
