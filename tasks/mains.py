"""What the circuit of a session's room has to carry: a caution, never a permission."""

from __future__ import annotations

from django.db.models import Q

from bookings.models import Session
from studio.electrics import CONTINUOUS_SHARE, circuit_share
from studio.models import GearUnit, Stay
from tasks.checklists.sheet import SheetMains


def mains_of(session: Session) -> SheetMains | None:
    """Everything that stands in the room and what the session has of the house's gear; None where the circuit isn't
    known. What needs no mains isn't counted, what the players bring can't be.
    """
    room = session.room
    if not room.mains_v or not room.circuit_a:
        return None
    rooms = room.with_parts()
    away = Stay.objects.open().exclude(room__in=rooms)
    there = Q(home_room__in=rooms) & ~Q(pk__in=away.values("unit"))
    there |= Q(resource__in=session.claims.values("resource"))
    powered = GearUnit.objects.filter(there, retired=False, gear_model__mains__isnull=False)
    watts = list(powered.order_by("pk").values_list("gear_model__mains__power_w", flat=True))
    load = sum(each for each in watts if each is not None)
    share = circuit_share(load, room.mains_v, room.circuit_a)
    return SheetMains(load, room.mains_v, room.circuit_a, share, share > CONTINUOUS_SHARE, watts.count(None))
