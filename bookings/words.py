"""What stands in the way and what has changed, in sentences."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, tzinfo

from bookings.drafts import Draft, as_draft
from bookings.models import Session
from studio.claims import Clash
from studio.clock import say, say_span
from studio.models import Claim, Resource, Room
from studio.spans import merged

NO_CHANGE = "Saved without a change."
OTHER_UNIT = "Take it out of the wanted gear, or name another."


def clash_sentences(clashes: Iterable[Clash], tz: tzinfo) -> list[str]:
    """One sentence for each thing that stands in the way, whichever claims of it were met."""
    by_origin: dict[tuple[int, int] | None, list[Clash]] = {}
    for clash in clashes:
        key = (clash.claim.origin_type_id, clash.claim.origin_id) if clash.claim else None
        by_origin.setdefault(key, []).append(clash)
    out = [_short_of(clash) for clash in by_origin.pop(None, [])]
    for group in by_origin.values():
        out += _group_sentences(group, tz)
    return list(dict.fromkeys(out))


def _group_sentences(group: list[Clash], tz: tzinfo) -> list[str]:
    rooms = [c for c in group if c.resource.kind == Resource.Kind.ROOM]
    others = [c for c in group if c.resource.kind != Resource.Kind.ROOM]
    sentences = [_room_sentence(rooms, tz)] if rooms else []
    for resource_id in dict.fromkeys(c.resource.pk for c in others):
        sentences.append(_sentence([c for c in others if c.resource.pk == resource_id], tz))
    return sentences


def _room_sentence(clashes: list[Clash], tz: tzinfo) -> str:
    """Through which room or shared part: the parts are named once, whatever stands behind each."""
    names = list(dict.fromkeys(c.resource.name for c in clashes))
    first = [c for c in clashes if c.resource.name == names[0]]
    extra = f" (also {', '.join(names[1:])})" if len(names) > 1 else ""
    return _sentence(first, tz, extra)


def _sentence(clashes: list[Clash], tz: tzinfo, extra: str = "") -> str:
    claims = [c.claim for c in clashes if c.claim]
    spans = merged(claim.span for claim in claims)
    what = ", ".join(dict.fromkeys(claim.get_purpose_display() for claim in claims))
    when = "; ".join(say_span(span, tz) for span in spans)
    resource = clashes[0].resource
    way_on = f" {OTHER_UNIT}" if resource.kind == Resource.Kind.UNIT else ""
    return f"{resource.name}{extra} is taken: {_whose(claims[0])}, {when} ({what}).{way_on}"


def _whose(claim: Claim) -> str:
    return f"“{claim.reason}”" if claim.reason else "no reason given"


def _short_of(clash: Clash) -> str:
    if clash.words:
        return clash.words
    if clash.resource.exclusive:
        return f"{clash.resource.name} is wanted twice at once. Take one of the two out."
    return f"{clash.resource.name}: {clash.wanted.quantity} wanted, {max(clash.free, 0)} free at that time."


def difference(session: Session, draft: Draft) -> str:
    """What the draft changes, one line each: “Downbeat: Thu 4 March, 10:00, now Thu 4 March, 11:00.”"""
    tz = draft.room.site.tz
    lines = []
    for label, before, after in [
        ("Title", session.title, draft.title),
        ("Room", session.room.name, draft.room.name),
        ("Setup from", say(session.setup_at, tz), say(draft.setup_at, tz)),
        ("Load-in", say(session.load_in, tz), say(draft.load_in, tz)),
        ("Downbeat", say(session.downbeat, tz), say(draft.downbeat, tz)),
        ("End", say(session.end, tz), say(draft.end, tz)),
        ("Clear at", say(session.clear_at, tz), say(draft.clear_at, tz)),
        ("Kind", str(session.kind or ""), str(draft.kind or "")),
        ("Rooms beside", named(session.beside.all()), named(draft.beside)),
        ("Spare time until", maybe(session.spare_until, tz), maybe(draft.spare_until, tz)),
        ("Hours of each day", hours_of(session), hours_of(draft)),
        ("State", session.status, draft.status),
        ("Note", session.note, draft.note),
    ]:
        if before != after:
            lines.append(f"{label}: {before or 'none'}, now {after or 'none'}.")
    if session.instrument_list != draft.instrument_list:
        lines.append("The instrument list has changed.")
    if session.job_id != draft.job_id:
        lines.append("It belongs to another job now.")
    if {unit.pk for unit in session.wanted_units.all()} != set(draft.wanted_units):
        lines.append("The gear that is wanted has changed.")
    crew = {(c.person_id, c.role, c.call_at, c.assigned) for c in session.crew.all()}
    if crew != {(c.person_id, c.role, draft.call_of(c)[0], c.assigned) for c in draft.crew}:
        lines.append("The crew or their calls have changed.")
    return "\n".join(lines) or NO_CHANGE


def named(rooms: Iterable[Room]) -> str:
    return ", ".join(sorted(room.name for room in rooms))


def maybe(instant: datetime | None, tz: tzinfo) -> str:
    return say(instant, tz) if instant else ""


def hours_of(thing: Session | Draft) -> str:
    """Of a lockout's days, like “10:00 to 22:00”."""
    hours = as_draft(thing).day_hours if isinstance(thing, Session) else thing.day_hours
    return f"{hours[0]:%H:%M} to {hours[1]:%H:%M}" if hours else ""
