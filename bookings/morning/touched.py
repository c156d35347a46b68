"""Which faults touch which sessions: on what a session has taken, or on what lives in the rooms it has taken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from django.contrib.contenttypes.models import ContentType

from bookings.models import Session
from studio.models import Claim, Fault, GearModel

CHOSEN = {
    GearModel.Kind.MICROPHONE,
    GearModel.Kind.PREAMP,
    GearModel.Kind.DI,
}  # by the plan, which avoids faults
OF_FAULT = ("unit__gear_model", "unit__home_room", "channel__unit")


@dataclass(slots=True)
class Taken:
    """Resources that a session has: rooms with their parts and gear; and the units of which it has channels."""

    resources: set[int] = field(default_factory=set)
    channels_of: set[int] = field(default_factory=set)
    planned: bool = False

    def touches(self, fault: Fault) -> bool:
        return self._uses(fault) or self._finds(fault)

    def _uses(self, fault: Fault) -> bool:
        if fault.channel is None:
            return fault.unit.resource_id in self.resources or fault.unit_id in self.channels_of
        whole = fault.unit.resource_id in self.resources and fault.unit_id not in self.channels_of
        return whole or fault.channel.resource_id in self.resources

    def _finds(self, fault: Fault) -> bool:
        """Once there is a plan, what it could have chosen and didn't is of no interest."""
        room = fault.unit.home_room
        if room is None or room.resource_id not in self.resources:
            return False
        return not self.planned or fault.unit.gear_model.kind not in CHOSEN


def taken_by(sessions: Sequence[Session]) -> dict[int, Taken]:
    """One query, however many sessions there are."""
    kind = ContentType.objects.get_for_model(Session)
    claims = Claim.objects.filter(origin_type=kind, origin_id__in=[session.pk for session in sessions])
    found = {session.pk: Taken() for session in sessions}
    rows = claims.values_list("origin_id", "resource_id", "purpose", "resource__channel__unit")
    for pk, resource_id, purpose, unit_id in rows.distinct():
        taken = found[pk]
        taken.resources.add(resource_id)
        taken.planned |= purpose == Claim.Purpose.GEAR
        if unit_id:
            taken.channels_of.add(unit_id)
    return found
