"""A piano that lives in a room is used by the sessions there whose lists have one, though no claim says so."""

from __future__ import annotations

from collections.abc import Sequence

from bookings.models import Session
from bookings.morning.touched import taken_by
from studio.models import GearUnit
from studio.service.uses import Use, also_used
from studio.spans import Span
from tasks.models import PlannedInput, UnfilledNeed
from tasks.piano import PIANOS, is_piano


@also_used
def sessions_at_the_piano(units: Sequence[GearUnit], span: Span) -> dict[int, list[Use]]:
    """From load-in to end, by unit. Four queries, none where no unit is a piano with a room of its own."""
    pianos = [unit for unit in units if unit.home_room is not None and is_piano(unit)]
    if not pianos:
        return {}
    wanting = [
        rows.filter(source__in=PIANOS, plan__session__end__gt=span.start).values_list(
            "plan__session", flat=True
        )
        for rows in (PlannedInput.objects.order_by(), UnfilledNeed.objects.order_by())
    ]
    ids = set(wanting[0].union(wanting[1]))
    sessions = [s for s in Session.objects.standing().filter(pk__in=ids).select_related("kind") if s.is_work]
    taken = taken_by(sessions)
    return {
        piano.pk: [
            Use(Span(session.load_in, session.end), session.title)
            for session in sessions
            if piano.home_room and piano.home_room.resource_id in taken[session.pk].resources
            if Span(session.load_in, session.end).overlaps(span) and not session.is_hold
        ]
        for piano in pianos
    }
