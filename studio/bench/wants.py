"""Which bookings want what is broken: those that claim it, had to give it up, or asked for it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.dispatch import receiver
from django.utils import timezone

from studio.gear.queries import claims_on
from studio.models import Claim, Fault, GearUnit, GivenUp
from studio.signals import gear_state_changed
from studio.spans import Span

Origin = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Want:
    """A booking that wants a unit or a channel. origin: its content type and key."""

    origin: Origin
    span: Span
    title: str


Look = Callable[[Sequence[Fault]], Mapping[int, Iterable[Want]]]
_looks: list[Look] = []


def also_wanted(look: Look) -> Look:
    """Registers who knows of bookings that want what they can't claim; given back by the fault's key."""
    if look not in _looks:
        _looks.append(look)
    return look


@receiver(gear_state_changed, dispatch_uid="studio.remember_who_gave_up")
def remember_who_gave_up(
    sender: Any, unit: GearUnit, fault: Fault, given_up: list[Origin], **kwargs: Any
) -> None:
    """Who gave a unit up to a repair still wants it."""
    rows = [GivenUp(fault=fault, origin_type_id=kind, origin_id=pk) for kind, pk in given_up]
    GivenUp.objects.bulk_create(rows, ignore_conflicts=True)


def wants_of(faults: Sequence[Fault]) -> dict[int, list[Want]]:
    """By fault, one want a booking, first come first; bookings that are over are left out. A constant number of
    queries. The faults have their units with channels fetched."""
    claims = claims_on(set().union(*map(resources, faults)), Span(timezone.now(), None), viewer=None)
    found: dict[int, dict[Origin, Want]] = {fault.pk: {} for fault in faults}
    for look in _looks:
        for pk, wants in look(faults).items():
            found[pk] |= {want.origin: want for want in wants}
    for fault in faults:
        for claim in (claim for resource in resources(fault) for claim in claims.get(resource, [])):
            if claim.purpose == Claim.Purpose.GEAR:
                origin = claim.origin_type_id, claim.origin_id
                found[fault.pk][origin] = Want(origin, claim.span, claim.reason)
    return {pk: sorted(own.values(), key=lambda want: want.span.start) for pk, own in found.items()}


def resources(fault: Fault) -> set[int]:
    if fault.channel is not None:
        return {fault.channel.resource_id}
    return {fault.unit.resource_id, *(channel.resource_id for channel in fault.unit.channels.all())}
