"""Which reminders a session should have, for whom, and when. Pure: aware times in, aware UTC out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum

BREAKDOWN_NOTICE = timedelta(minutes=30)
UNPLANNED_CHECK_MINUTES = (
    30  # phantom and line check while no checklist says otherwise; a house's first guess
)
SMALL_MOVE = timedelta(minutes=15)


class Kind(StrEnum):
    MORNING = "morning"
    PHANTOM = "phantom"
    BREAKDOWN = "breakdown"


@dataclass(frozen=True, slots=True)
class Hours:
    """When a session begins for the artist, ends, and leaves the room clear."""

    downbeat: datetime
    end: datetime
    clear_at: datetime


@dataclass(frozen=True, slots=True)
class Call:
    """One assistant's hours on the session."""

    person_id: int
    call_at: datetime
    until: datetime


@dataclass(frozen=True, slots=True)
class Due:
    """One reminder that should be: goes out from due_at on, and no more from useless_after on; both UTC."""

    person_id: int
    kind: Kind
    due_at: datetime
    useless_after: datetime


def reminders_of(
    hours: Hours, calls: Iterable[Call], check_minutes: int, morning_notice_minutes: int
) -> list[Due]:
    """The reminders of a session for its assistants, each person's in order of kind.

    Morning: `morning_notice_minutes` before the call, of use until downbeat or a later call. Phantom check:
    when `check_minutes` (phantom and line check together) are left before downbeat, of use until downbeat.
    Breakdown: half an hour before the end, of use until the room is clear. The last two never fall before
    the person's own call, and whoever isn't there at that time has none.
    """
    downbeat, end, clear_at = map(utc, (hours.downbeat, hours.end, hours.clear_at))
    check_at = downbeat - timedelta(minutes=check_minutes or UNPLANNED_CHECK_MINUTES)
    found = []
    for call in calls:
        call_at, until = utc(call.call_at), utc(call.until)
        notice_at = call_at - timedelta(minutes=morning_notice_minutes)
        there = [
            Due(call.person_id, Kind.PHANTOM, max(check_at, call_at), downbeat),
            Due(call.person_id, Kind.BREAKDOWN, max(end - BREAKDOWN_NOTICE, call_at), min(clear_at, until)),
        ]
        found.append(Due(call.person_id, Kind.MORNING, notice_at, max(downbeat, call_at)))
        found += [due for due in there if due.due_at < min(due.useless_after, until)]
    return found


def moved(told: datetime, due: datetime) -> bool:
    """Whether a reminder that has gone out for `told` goes out again for `due`: from 15 minutes on."""
    return abs(utc(due) - utc(told)) >= SMALL_MOVE


def utc(instant: datetime) -> datetime:
    """Arithmetic on a zone's clock is wrong across a clock change, so everything is UTC first.

    Raises ValueError for a time without a zone.
    """
    if instant.tzinfo is None:
        raise ValueError("A reminder needs times with a zone.")
    return instant.astimezone(UTC)
