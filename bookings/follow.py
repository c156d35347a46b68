"""What a change of the house means for what is booked."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.dispatch import receiver
from django.utils import timezone

from bookings.booking import ROOM_PURPOSES, Called, Draft, wanted_claims
from bookings.models import Session
from studio.claims import take
from studio.models import Room
from studio.signals import house_changed


@receiver(house_changed, dispatch_uid="bookings.take_new_parts")
def take_new_parts(sender: Any, thing: Any, **kwargs: Any) -> None:
    """A room that is made of other parts than before takes those for all that is booked ahead.

    Raises Conflict when a part is taken by something else: then the room can't be made of it yet.
    """
    if isinstance(thing, Room):
        rooms = [thing, *_wholes(thing)]
        ahead = Session.objects.standing().filter(room__in=rooms, clear_at__gt=timezone.now())
        for session in ahead.with_all().order_by("setup_at"):
            take(session, wanted_claims(as_draft(session)), instead=ROOM_PURPOSES)


def _wholes(room: Room) -> Iterator[Room]:
    for whole in room.wholes.all():
        yield whole
        yield from _wholes(whole)


def as_draft(session: Session) -> Draft:
    """The session as it stands, as something to book."""
    return Draft(
        job_id=session.job_id,
        room=session.room,
        title=session.title,
        load_in=session.load_in,
        downbeat=session.downbeat,
        end=session.end,
        crew=tuple(Called(c.person_id, c.role, c.call_at) for c in session.crew.all()),
        setup_minutes=round((session.load_in - session.setup_at).total_seconds() / 60),
        turnaround_minutes=round((session.clear_at - session.end).total_seconds() / 60),
        instrument_list=session.instrument_list,
        note=session.note,
        status=session.status,
    )
