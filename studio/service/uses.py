"""When units were and will be used: the claims of sessions on them, and what other layers know besides."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from studio.models import Claim, GearUnit
from studio.spans import Span


@dataclass(frozen=True, slots=True)
class Use:
    span: Span
    reason: str


Uses = dict[int, list[Use]]
Look = Callable[[Sequence[GearUnit], Span], Mapping[int, Iterable[Use]]]
_looks: list[Look] = []


def also_used(look: Look) -> Look:
    """Registers who knows of uses that no claim on a unit tells of: the piano that lives in a session's room."""
    if look not in _looks:
        _looks.append(look)
    return look


def uses_of(units: Sequence[GearUnit], span: Span) -> Uses:
    """By unit: each use that touches the span, of the whole or of any channel. units have their channels fetched.

    One query, and those of whoever else is asked. Tentative claims don't count.
    """
    unit_of = {unit.resource_id: unit.pk for unit in units}
    unit_of |= {channel.resource_id: unit.pk for unit in units for channel in unit.channels.all()}
    claims = Claim.objects.firm().filter(purpose=Claim.Purpose.GEAR, resource__in=unit_of).overlapping(span)
    found: Uses = {unit.pk: [] for unit in units}
    for resource_id, starts, ends, reason in claims.values_list("resource_id", "starts", "ends", "reason"):
        found[unit_of[resource_id]].append(Use(Span(starts, ends), reason))
    for look in _looks:
        for pk, uses in look(units, span).items():
            found[pk] += uses
    return found
