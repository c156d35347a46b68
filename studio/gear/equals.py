"""What could stand in: units, or channels, of the same kind that work and are free."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import islice

from django.db.models import BooleanField, Case, Q, QuerySet, Value, When

from studio.gear.answers import unit_address
from studio.gear.queries import taken_at, whole_units
from studio.gear.state import state_of
from studio.models import Channel, Fault, GearModel, GearUnit

FREE_FOR = timedelta(hours=4)
LOOKED_AT = 40
SHOWN = 6


@dataclass(frozen=True, slots=True)
class Equal:
    name: str
    why: str
    address: str


def equals(unit: GearUnit, channel: Channel | None, at: datetime) -> list[Equal]:
    """Nearest first: the same unit, the same model, the same room. A constant number of queries."""
    taken = taken_at(at, at + FREE_FOR)
    return list(islice(_candidates(unit, channel, at, taken), SHOWN))


def _candidates(unit: GearUnit, channel: Channel | None, at: datetime, taken: set[int]) -> Iterator[Equal]:
    if channel is not None:
        yield from islice(_channels(unit, unit, at, taken, but_not=channel), 3)
    for other in _alike(unit)[:LOOKED_AT]:
        if channel is not None:
            yield from islice(_channels(other, unit, at, taken), 1)
        elif other.resource_id not in taken and (also := _serves(other, at)) is not None:
            yield Equal(other.tag, f"{_why(other, unit)}{also}", unit_address(other.tag))


def _serves(other: GearUnit, at: datetime) -> str | None:
    """Empty for a unit that works; what is wrong, where some of its channels do; None for no use."""
    state = state_of(other, None, at)
    if state.works:
        return ""
    return f" · {state}" if state.usable and other.gear_model.channels > 1 else None


def _channels(
    other: GearUnit, unit: GearUnit, at: datetime, taken: set[int], but_not: Channel | None = None
) -> Iterator[Equal]:
    if other.resource_id in taken:
        return
    for channel in other.channels.all():
        if channel != but_not and channel.resource_id not in taken and state_of(other, channel, at).works:
            address = unit_address(other.tag, channel.number)
            yield Equal(f"{other.tag} channel {channel.number}", _why(other, unit), address)


def _alike(unit: GearUnit) -> QuerySet[GearUnit]:
    """Units of the same kind, for a microphone the same transducer, at the same site; nearest first."""
    model = unit.gear_model
    found = (
        whole_units().filter(gear_model__kind=model.kind, site=unit.site, retired=False).exclude(pk=unit.pk)
    )
    if model.kind == GearModel.Kind.MICROPHONE and hasattr(model, "microphone"):
        found = found.filter(gear_model__microphone__transducer=model.microphone.transducer)
    out = Fault.objects.open().filter(severity=Fault.Severity.OUT, channel__isnull=True)
    return found.exclude(pk__in=out.values("unit")).order_by(
        _first(Q(gear_model=model)), _first(Q(home_room=unit.home_room_id)), "tag"
    )


def _first(condition: Q) -> Case:
    return Case(When(condition, then=Value(False)), default=Value(True), output_field=BooleanField())


def _why(other: GearUnit, unit: GearUnit) -> str:
    if other.pk == unit.pk:
        return "same unit, no other patch"
    same = "same model" if other.gear_model_id == unit.gear_model_id else str(other.gear_model)
    return f"{same} · {other.where}"
