"""What a change of the house means for what is booked."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.db.models import Q
from django.db.models.signals import post_save
from django.dispatch import receiver
from django.utils import timezone

from bookings.drafts import ROOM_PURPOSES, as_draft, wanted_claims
from bookings.models import Session
from bookings.models.kinds import offer_usual_kinds
from studio.claims import take
from studio.models import Room, Site
from studio.signals import house_changed


@receiver(house_changed, dispatch_uid="bookings.take_new_parts")
def take_new_parts(sender: Any, thing: Any, **kwargs: Any) -> None:
    """A room that is made of other parts than before takes those for all that is booked ahead.

    Raises Conflict when a part is taken by something else: then the room can't be made of it yet.
    """
    if isinstance(thing, Room):
        rooms = [thing, *_wholes(thing)]
        taken = Q(room__in=rooms) | Q(beside__in=rooms)
        ahead = Session.objects.standing().filter(taken, clear_at__gt=timezone.now()).distinct()
        for session in ahead.with_all().order_by("setup_at", "pk"):
            take(session, wanted_claims(as_draft(session)), instead=ROOM_PURPOSES)


def _wholes(room: Room) -> Iterator[Room]:
    for whole in room.wholes.all():
        yield whole
        yield from _wholes(whole)


@receiver(post_save, sender=Site, dispatch_uid="bookings.offer_usual_kinds")
def offer_kinds(sender: type[Site], instance: Site, created: bool, **kwargs: Any) -> None:
    if created:
        offer_usual_kinds(instance)
