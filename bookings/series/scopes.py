"""Whom a change of one occurrence is for, and what becomes of each of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from enum import StrEnum

from django.utils import timezone

from bookings.drafts import Called, Draft, as_draft, in_minutes
from bookings.models import Session
from bookings.series.planning import Planned, with_obstacles
from bookings.series.rules import shifted, wall_shift

PARTS = {
    "job_id": "job",
    "room": "room",
    "title": "title",
    "kind": "kind",
    "beside": "rooms beside",
    "day_hours": "hours of each day",
    "setup_minutes": "setup",
    "turnaround_minutes": "turnaround",
    "spare_minutes": "spare time",
    "instrument_list": "instrument list",
    "wanted_units": "wanted gear",
    "note": "note",
}


class Scope(StrEnum):
    """Which occurrences a change is for."""

    FOLLOWING = "following"
    ALL = "all"


@dataclass(frozen=True, slots=True)
class Target:
    """An occurrence, how it is to be, and what it keeps of its own (in words)."""

    session: Session
    draft: Draft
    keeps: tuple[str, ...] = ()


def members(session: Session, scope: Scope) -> list[Session]:
    """This occurrence and the following, or all that aren't over; none that is cancelled."""
    found = Session.objects.standing().with_all().filter(series=session.series_id, end__gt=timezone.now())
    if scope == Scope.FOLLOWING:
        found = found.filter(occurrence__gte=session.occurrence)
    return list(found.prefetch_related("beside__site", "wanted_units").order_by("occurrence", "pk"))


def targets(session: Session, draft: Draft, scope: Scope) -> list[Target]:
    """The occurrences that a change of this one is for, each as it would be; those over are left alone.

    What an occurrence has of its own (another title, another room …) stays its own; times move by the same
    wall-clock shift. Takes a session made `with_all()`.
    """
    before = as_draft(session)
    return [
        Target(other, draft) if other.pk == session.pk else _target(other, before, draft)
        for other in members(session, scope)
    ]


def preview_change(found: Sequence[Target]) -> list[Planned]:
    """What stands in the way of each; the series' own sessions make room for each other."""
    plans = [Planned(target.draft, keeps=target.keeps) for target in found]
    planned = with_obstacles(plans, own={target.session.pk for target in found})
    return sorted(planned, key=lambda plan: plan.draft.load_in)


def _target(other: Session, before: Draft, after: Draft) -> Target:
    own = as_draft(other)
    changed = [name for name in PARTS if _value(before, name) != _value(after, name)]
    same = {name: getattr(after, name) for name in changed if _value(own, name) == _value(before, name)}
    keeps = tuple(PARTS[n] for n in changed if n not in same and _value(own, n) != _value(after, n))
    if after.hold_until and other.is_hold:
        same["hold_until"] = after.hold_until
    room = same.get("room", own.room)
    moved = own.moved(*_times(own, before, after, room.site.tz))
    return Target(other, replace(moved, **same, crew=_crew(moved, before, after)), keeps)


def _value(draft: Draft, name: str) -> object:
    """What to compare: minutes count as they are, whoever said so; the order of rooms and gear doesn't."""
    match name:
        case "setup_minutes":
            return in_minutes(draft.load_in - draft.setup_at)
        case "turnaround_minutes":
            return in_minutes(draft.clear_at - draft.last)
        case "beside":
            return {room.pk for room in draft.beside}
        case "wanted_units":
            return set(draft.wanted_units)
    return getattr(draft, name)


def _times(own: Draft, before: Draft, after: Draft, into: tzinfo) -> tuple[datetime, datetime, datetime]:
    tz, old, new = own.room.site.tz, before.room.site.tz, after.room.site.tz
    return (
        shifted(own.load_in, wall_shift(before.load_in, after.load_in, old, new), tz, into),
        shifted(own.downbeat, wall_shift(before.downbeat, after.downbeat, old, new), tz, into),
        shifted(own.end, wall_shift(before.end, after.end, old, new), tz, into),
    )


def _crew(own: Draft, before: Draft, after: Draft) -> tuple[Called, ...]:
    """Who is taken off goes, unless they are here in another role; who is new comes, unless they are here."""
    old, new = {_who(called) for called in before.crew}, {_who(called) for called in after.crew}
    stay = [called for called in own.crew if _who(called) not in old - new]
    here = {called.person_id for called in stay}
    later = own.load_in - after.load_in
    come = [c for c in after.crew if _who(c) not in old and c.person_id not in here]
    return (*stay, *(replace(c, call_at=c.call_at + later) if c.call_at else c for c in come))


def _who(called: Called) -> tuple[int, str, bool]:
    return called.person_id, called.role, called.assigned
