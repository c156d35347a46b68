"""What could stand in for what is broken while it is needed: counted for the whole queue at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice

from studio.models import Channel, Claim, Fault, GearUnit
from studio.spans import Span

MOST = 9
"""More aren't counted: it makes no difference to the queue."""
Family = tuple[int, str, str | None]
"""Site, kind and, of a microphone, transducer: what can stand in for each other."""
Broken = set[tuple[int, int | None]]
"""Units with channels that have an open fault; None for the unit as a whole."""


@dataclass(slots=True)
class _Unit:
    pk: int
    resource: int
    channels: list[tuple[int, int]] = field(default_factory=list)


def stand_ins(needed: Mapping[Fault, Span]) -> dict[int, int]:
    """How many others work and are free throughout the span, by fault, at most MOST. Four queries.

    For a channel: channels of units alike, its own among them. For a whole unit: whole units without any fault.
    """
    if not needed:
        return {}
    families = _families({_family(fault) for fault in needed})
    broken: Broken = set(Fault.objects.open().values_list("unit", "channel"))
    taken = _taken(list(needed.values()), [unit for units in families.values() for unit in units])
    return {
        fault.pk: len(list(islice(_fitting(fault, families[_family(fault)], broken, taken, span), MOST)))
        for fault, span in needed.items()
    }


def _family(fault: Fault) -> Family:
    model = fault.unit.gear_model
    return fault.unit.site_id, model.kind, getattr(getattr(model, "microphone", None), "transducer", None)


def _families(wanted: set[Family]) -> dict[Family, list[_Unit]]:
    alike = GearUnit.objects.filter(
        retired=False,
        site__in={each[0] for each in wanted},
        gear_model__kind__in={each[1] for each in wanted},
    )
    rows = alike.order_by().values_list(
        "pk", "resource", "site", "gear_model__kind", "gear_model__microphone__transducer"
    )
    found: dict[Family, list[_Unit]] = {family: [] for family in wanted}
    units: dict[int, _Unit] = {}
    for pk, resource, *family in rows:
        if (key := (family[0], family[1], family[2])) in found:
            units[pk] = _Unit(pk, resource)
            found[key].append(units[pk])
    channels = Channel.objects.filter(unit__in=alike).order_by()
    for pk, unit, resource in channels.values_list("pk", "unit", "resource"):
        if unit in units:
            units[unit].channels.append((pk, resource))
    return found


def _taken(spans: Sequence[Span], units: Sequence[_Unit]) -> dict[int, list[Span]]:
    """All firm claims from the first span's start to the last one's end on resources that could stand in."""
    ends = [span.end for span in spans]
    whole = Span(min(span.start for span in spans), None if None in ends else max(end for end in ends if end))
    ours = {unit.resource for unit in units} | {pk for unit in units for _, pk in unit.channels}
    claims = Claim.objects.firm().overlapping(whole).filter(resource__kind__in=["unit", "channel"])
    found: dict[int, list[Span]] = {}
    for resource, starts, ends_at in claims.values_list("resource_id", "starts", "ends"):
        if resource in ours:
            found.setdefault(resource, []).append(Span(starts, ends_at))
    return found


def _fitting(
    fault: Fault, units: Sequence[_Unit], broken: Broken, taken: Mapping[int, list[Span]], span: Span
) -> Iterator[int]:
    """Resources that could stand in."""
    faulty = {unit for unit, _ in broken}

    def free(*resources: int) -> bool:
        return not any(each.overlaps(span) for pk in resources for each in taken.get(pk, ()))

    for unit in units:
        if fault.channel_id is None:
            resources = [unit.resource, *(resource for _, resource in unit.channels)]
            if unit.pk != fault.unit_id and unit.pk not in faulty and free(*resources):
                yield unit.resource
        elif (unit.pk, None) not in broken:
            for pk, resource in unit.channels:
                if pk != fault.channel_id and (unit.pk, pk) not in broken and free(unit.resource, resource):
                    yield resource
