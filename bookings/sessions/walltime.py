"""From a time on a site's clock to an instant, on the nights when the clocks change too. Pure."""

from __future__ import annotations

from datetime import UTC, datetime, tzinfo

from studio.clock import say_day, twice_or_never

FIRST, SECOND = "first", "second"


class NotOneInstant(Exception):
    """The wall time is skipped there, or comes twice; the message says which."""


def instant(wall: datetime, tz: tzinfo, which: str = "") -> datetime:
    """The instant in UTC; `which` is FIRST or SECOND for a time that comes twice. Raises NotOneInstant."""
    trouble = twice_or_never(wall, tz)
    there = f"{wall:%H:%M} on {say_day(wall.date())}"
    if trouble == "never":
        raise NotOneInstant(
            f"There is no {there}: the clocks go forward over it. Type a time before or after the change."
        )
    if trouble == "twice" and which not in (FIRST, SECOND):
        raise NotOneInstant(f"{there} comes twice: the clocks go back. Say which of the two is meant.")
    return wall.replace(tzinfo=tz, fold=int(which == SECOND)).astimezone(UTC)


def which_of_two(moment: datetime, tz: tzinfo) -> str:
    """FIRST or SECOND when the moment's wall time comes twice there, else nothing."""
    there = moment.astimezone(tz)
    if twice_or_never(there.replace(tzinfo=None, fold=0), tz) != "twice":
        return ""
    return SECOND if there.fold else FIRST


def choices_of(wall: datetime, tz: tzinfo) -> list[tuple[str, str]]:
    """The two instants to choose from, told apart by what stands on a clock in UTC."""
    return [
        (which, f"the {which} {wall:%H:%M} ({instant(wall, tz, which):%H:%M} UTC)")
        for which in (FIRST, SECOND)
    ]
