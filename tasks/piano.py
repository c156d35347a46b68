"""Pianos that want tuning before a session that uses them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.utils import timezone

from bookings.models import Session
from bookings.morning.touched import taken_by
from bookings.needs import Needs, also
from studio.models import Claim, GearModel, GearUnit
from tasks.models import PlannedInput, UnfilledNeed

PIANOS = ("piano", "grand piano", "upright piano")
TUNED_WITHIN = timedelta(days=3)  # common practice, no single source
UNTUNED = "piano wanted, no tuning booked before it"


@also
def tuner_missing(sessions: Sequence[Session]) -> Needs:
    """Sessions with a piano in rooms where one lives, and no upkeep there within three days before.

    Four queries, however many sessions there are.
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
    pianos = [unit for unit in kept.select_related("gear_model", "home_room") if is_piano(unit)]
    rooms = {unit.home_room.resource_id for unit in pianos if unit.home_room}
    upkeep = Claim.objects.filter(purpose=Claim.Purpose.UPKEEP, resource__in=rooms)
    tunings = list(upkeep.values_list("resource", "ends"))
    taken = taken_by(wanting)
    return {
        session.pk: [UNTUNED]
        for session in wanting
        if (there := taken[session.pk].resources & rooms) and not _tuned(session, there, tunings)
    }


def is_piano(unit: GearUnit) -> bool:
    """An instrument that its model or its remark calls a piano or a grand."""
    named = set(f"{unit.gear_model.name} {unit.remark}".lower().split())
    return unit.gear_model.kind == GearModel.Kind.INSTRUMENT and bool(named & {"piano", "grand"})


def _tuned(session: Session, rooms: set[int], tunings: Sequence[tuple[int, datetime | None]]) -> bool:
    first = session.load_in - TUNED_WITHIN
    return any(room in rooms and end and first <= end <= session.load_in for room, end in tunings)
