"""What would spoil a session, or what it would spoil, though nothing is in the way: noise hours and neighbours.

These are warnings, never a refusal: who is in the building knows how loud it will be.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import tzinfo

from django.db.models import Q

from bookings.drafts import Draft
from bookings.lockouts import daily
from bookings.models import Session
from bookings.parts import Parts, all_parts, wholes_of, with_parts
from studio.clock import say_span
from studio.models import RoomPair
from studio.spans import Span


def warnings_about_noise(draft: Draft, session: Session | None = None) -> list[str]:
    """A constant number of queries. `session` is the one that the draft changes."""
    if draft.kind is None:
        return []
    return [*_in_quiet_hours(draft), *_beside_neighbours(draft, session)]


def _in_quiet_hours(draft: Draft) -> Iterator[str]:
    if not (draft.kind and draft.kind.loud):
        return
    tz = draft.room.site.tz
    for room in draft.rooms:
        if room.quiet_from is None or room.quiet_until is None:
            continue
        hours = (room.quiet_from, room.quiet_until)
        met = [quiet for day in worked(draft) for quiet in daily(day, hours, tz)]
        if met:
            yield (
                f"{room.name} has quiet hours from {hours[0]:%H:%M} to {hours[1]:%H:%M}: “{draft.kind}” would be "
                f"loud in them, {_said(met, tz)}."
            )


def _beside_neighbours(draft: Draft, session: Session | None) -> Iterator[str]:
    kind = draft.kind
    if kind is None or not (kind.loud or kind.wants_quiet):
        return
    parts = all_parts()
    mine = reached([draft.room.pk, *(room.pk for room in draft.beside)], parts)
    heard = _heard(mine, draft.room.site_id)
    for other in _others(draft, session) if heard else ():
        theirs = reached([other.room_id, *(room.pk for room in other.beside.all())], parts)
        met = _met(worked(draft), worked(other))
        if met and any(theirs & heard.get(pk, set()) for pk in mine):
            yield from _spoilt(draft, other, met)


def _spoilt(draft: Draft, other: Session, met: Sequence[Span]) -> Iterator[str]:
    """In either direction, and in both where both are loud and want quiet."""
    mine, theirs = draft.kind, other.kind
    if mine is None or theirs is None:
        return
    tz = draft.room.site.tz
    held = ", held and not confirmed" if other.is_hold else ""
    there = f"“{other.title}” in {other.room.name} ({theirs}{held})"
    if theirs.loud and mine.wants_quiet:
        yield f"{there} is loud and heard in {draft.room.name}, {_said(met, tz)}: “{mine}” wants quiet."
    if mine.loud and theirs.wants_quiet:
        yield f"{there} wants quiet, and “{mine}” is loud and heard there, {_said(met, tz)}."


def worked(thing: Draft | Session) -> list[Span]:
    """The spans in which there is somebody at work, spare time included, nights of a lockout not."""
    *earlier, last = thing.days
    return [*earlier, Span(last.start, max(thing.last, last.end or thing.last))]


def _met(mine: Iterable[Span], theirs: Sequence[Span]) -> list[Span]:
    return [
        Span(max(one.start, other.start), min(one.end or one.start, other.end or other.start))
        for one in mine
        for other in theirs
        if one.overlaps(other)
    ]


def _others(draft: Draft, session: Session | None) -> Iterable[Session]:
    span = Span(draft.load_in, draft.last)
    telling = Q(kind__loud=True) | Q(kind__wants_quiet=True)
    found = (
        Session.objects.standing().with_all().touching(span).filter(telling, room__site=draft.room.site_id)
    )
    return found.exclude(pk=session.pk) if session else found


def _heard(rooms: Iterable[int], site_id: int) -> dict[int, set[int]]:
    """For each room those that sound carries to, as the pairs say."""
    found: dict[int, set[int]] = {}
    for first, second in RoomPair.objects.filter(sound_carries=True, first__site=site_id).values_list(
        "first_id", "second_id"
    ):
        found.setdefault(first, set()).add(second)
        found.setdefault(second, set()).add(first)
    wanted = set(rooms)
    return {pk: beyond for pk, beyond in found.items() if pk in wanted}


def reached(rooms: Iterable[int], parts: Parts) -> set[int]:
    """These rooms, what they are made of, and what they are a part of: sound in a part is sound in the whole."""
    own = set(rooms)
    return with_parts(own, parts) | with_parts(own, wholes_of(parts))


def what_joins(draft: Draft) -> list[str]:
    """What is kept about each two of the rooms taken together: tie lines, sight, cue feed. One query."""
    rooms = [draft.room, *draft.beside]
    if len(rooms) < 2:
        return []
    ids = [room.pk for room in rooms]
    pairs = {
        frozenset((pair.first_id, pair.second_id)): pair
        for pair in RoomPair.objects.filter(first__in=ids, second__in=ids)
    }
    said = []
    for at, first in enumerate(rooms):
        for second in rooms[at + 1 :]:
            pair = pairs.get(frozenset((first.pk, second.pk)))
            remark = f" ({pair.remark})" if pair and pair.remark else ""
            words = pair.words + remark if pair else "what joins them isn't kept yet"
            said.append(f"{first.name} and {second.name}: {words}.")
    return said


def _said(spans: Iterable[Span], tz: tzinfo) -> str:
    return "; ".join(say_span(span, tz) for span in spans)
