"""What would meet an open need of a session: what is free, who has what would serve and until when, a hire, a move."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta
from urllib.parse import urlencode

from django.contrib.contenttypes.models import ContentType
from django.urls import reverse
from django.utils import timezone

from bookings.drafts import as_draft
from bookings.models import Session
from bookings.sessions.fields import as_wall
from bookings.sessions.nearest import alternatives
from studio.access import Act, may, sees_house
from studio.claims import in_the_way
from studio.clock import say
from studio.models import Claim, Fault, GearUnit, Person
from tasks.models import UnfilledNeed
from tasks.planning import words
from tasks.planning.obstacles import CHANNEL
from tasks.planning.snapshot import Need
from tasks.planning.ways_out import (
    A_HIRE,
    A_MOVE,
    ANOTHER_SESSION,
    FURTHER_AHEAD,
    Way,
    by_cost,
    ways_here,
)
from tasks.snapshots import Looked, look
from tasks.solving import checked_plan, wants_of
from tasks.standing import standing_plan

AN_HOUR = timedelta(hours=1)
MOST_MOVES = 3  # each is planned to see whether it helps
MOST_AWAY = 4
SHORT = re.compile(r"No (.+?) is left")
OF_THE_ROOM = {"line", "recorder input", "patch point", "mains outlet"}


def ways_out(session: Session, row: UnfilledNeed, viewer: Person) -> list[Way]:
    """The cheapest first; empty only where the list has changed since."""
    looked, plan = standing_plan(session)
    need = next((need for need in looked.snapshot.needs if need.label == row.label), None)
    if need is None:
        return []
    found = ways_here(looked.snapshot, plan, need)
    found += _away(session, looked, need, viewer)
    found += _hired(session, looked, need, row, viewer)
    if may(viewer, Act.BOOK):
        found += _moved(session, need)
    return by_cost(found)


def _away(session: Session, looked: Looked, need: Need, viewer: Person) -> Iterator[Way]:
    """Units of a wanted kind that another session has, or that are being mended."""
    here = {unit.tag for unit in looked.snapshot.pickups}
    away = [
        unit for tag, unit in sorted(looked.units.items()) if tag not in here and _kind(unit) in need.kinds
    ]
    pks = [unit.resource_id for unit in away]
    claims = {claim.resource_id: claim for claim in in_the_way(pks, session.whole, but_not=session)}
    faults = {fault.unit_id: fault for fault in _faults(session, away)}
    ways = [way for unit in away for way in [_back(session, unit, faults, claims, viewer)] if way]
    yield from by_cost(ways)[:MOST_AWAY]


def _kind(unit: GearUnit) -> str:
    model = unit.gear_model
    if hasattr(model, "microphone"):
        return str(model.microphone.transducer)
    box = getattr(model, "direct_box", None)
    return "" if box is None else "active di" if box.active else "passive di"


def _faults(session: Session, units: Iterable[GearUnit]) -> Iterable[Fault]:
    found = Fault.objects.during(session.whole).filter(unit__in=list(units), severity=Fault.Severity.OUT)
    return found.order_by("pk")


def _back(
    session: Session, unit: GearUnit, faults: dict[int, Fault], claims: dict[int, Claim], viewer: Person
) -> Way | None:
    fault, claim, tz = faults.get(unit.pk), claims.get(unit.resource_id), session.room.site.tz
    if fault is not None:
        if fault.expected_back is None:
            return None
        text = f"Wait for {unit.tag}: it is being mended, expected back {say(fault.expected_back, tz)}."
        return Way(_wait(session, fault.expected_back), text, link=reverse("studio:unit", args=[unit.tag]))
    if claim is None or claim.ends is None:
        return None
    until = say(claim.ends, tz)
    other = _session_of(claim, viewer)
    if other is None:
        text = f"Have {unit.tag} after {until}, when it comes free."
        return Way(ANOTHER_SESSION + _wait(session, claim.ends), text)
    text = f"Borrow {unit.tag} from {other.room.name} after {until}: “{other.title}” has it until then."
    return Way(
        ANOTHER_SESSION + _wait(session, claim.ends), text, link=reverse("tasks:inputs", args=[other.pk])
    )


def _session_of(claim: Claim, viewer: Person) -> Session | None:
    """The session that has it, for those who may know of it."""
    if claim.origin_type_id != ContentType.objects.get_for_model(Session).pk or not sees_house(viewer):
        return None
    return Session.objects.select_related("room").filter(pk=claim.origin_id).first()


def _wait(session: Session, when: datetime) -> float:
    """Hours of the session without it."""
    if when >= session.end:
        return FURTHER_AHEAD + (when - session.end) / AN_HOUR
    return max(0.0, (when - session.downbeat) / AN_HOUR)


def _hired(session: Session, looked: Looked, need: Need, row: UnfilledNeed, viewer: Person) -> Iterator[Way]:
    """One more of what is short: a preamp where no channel is left, a stand, a cable, else its first kind."""
    short = SHORT.match(row.reason)
    what = short.group(1) if short else words.kind(need.kinds[0]) if need.kinds else ""
    if not what or what in OF_THE_ROOM:
        return
    what = "preamp" if what == CHANNEL else what
    if may(viewer, Act.BOOK):
        link = f"{reverse('bookings:hire_in', args=[session.pk])}?{urlencode({'what': what})}"
        yield Way(A_HIRE, f"Hire one {what} for this session.", link=link)
    else:
        yield Way(A_HIRE, f"Ask the manager to hire one {what} for this session.")


def _moved(session: Session, need: Need) -> Iterator[Way]:
    """The next times at which the room and everybody is free and this input can be met."""
    asked, now, wants = as_draft(session), timezone.now(), wants_of(session)
    found = [other for other in alternatives(asked, session, now) if other.draft.room == session.room]
    later = [other for other in found if other.draft.load_in > now and other.draft.crew == asked.crew]
    for other in later[:MOST_MOVES]:
        looked = look(other.draft.room, other.draft.whole, wants.needs, session, wants.runs.metres)
        if any(row.label == need.label for row in checked_plan(looked.snapshot, wants.costs).inputs):
            tz = session.room.site.tz
            times = {name: as_wall(getattr(other.draft, name), tz) for name in ("load_in", "downbeat", "end")}
            link = f"{reverse('bookings:change_session', args=[session.pk])}?{urlencode(times)}"
            yield Way(A_MOVE + other.cost, f"Move the session: {other.words} ({other.why}).", link=link)
            return
