"""Pianos that want tuning before a session that uses them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.utils import timezone

from bookings.models import Session, SessionKind
from bookings.needs import Needs, also
from studio.models import GearModel, GearUnit
from tasks.models import PlannedInput, UnfilledNeed

PIANOS = ("piano", "grand piano", "upright piano")
TUNED_WITHIN = timedelta(days=3)  # common practice, no single source
UNTUNED = "piano wanted, no tuning booked before it"


@also
def tuner_missing(sessions: Sequence[Session]) -> Needs:
    """Sessions with a piano in a room where one lives, and no upkeep of that room within three days before.

    Three queries, however many sessions there are.
    """
    ahead = {session.pk: session for session in sessions if session.end > timezone.now() and session.is_work}
    if not ahead:
        return {}
    wanted = [
        rows.filter(plan__session__in=ahead, source__in=PIANOS).values_list("plan__session", flat=True)
        for rows in (PlannedInput.objects.order_by(), UnfilledNeed.objects.order_by())
    ]
    wanting = [ahead[pk] for pk in set(wanted[0].union(wanted[1]))]
    if not wanting:
        return {}
    kept = GearUnit.objects.filter(gear_model__kind=GearModel.Kind.INSTRUMENT, retired=False)
    pianos = kept.filter(gear_model__name__icontains="piano") | kept.filter(remark__icontains="piano")
    rooms = set(pianos.values_list("home_room", flat=True))
    upkeep = Session.objects.standing().filter(kind__nature=SessionKind.Nature.UPKEEP)
    tunings = list(upkeep.filter(room__in=[s.room_id for s in wanting]).values_list("room_id", "end"))
    return {
        session.pk: [UNTUNED]
        for session in wanting
        if session.room_id in rooms and not _tuned(session, tunings)
    }


def _tuned(session: Session, tunings: Sequence[tuple[int, datetime]]) -> bool:
    first = session.load_in - TUNED_WITHIN
    return any(room == session.room_id and first <= end <= session.load_in for room, end in tunings)
