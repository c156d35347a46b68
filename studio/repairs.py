"""What faults claim: a unit or channel that is out of use is taken for repair from now on.

Open-ended until a return date is known. A repair wins: bookings that hold the thing give it up from now on, and
`gear_state_changed` names them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from studio.claims import Wanted, take, taken_ids
from studio.models import Channel, Claim, Fault, GearUnit, Resource, Stay
from studio.signals import gear_state_changed
from studio.spans import Span, gaps

Severity = Fault.Severity
REPAIR = Claim.Purpose.REPAIR
ELSEWHERE = [Claim.Purpose.TRAVEL, Claim.Purpose.NOT_HERE]
Origin = tuple[int, int]


def keep_overdue_out() -> int:
    """What was expected back and isn't stays claimed, open-ended, until somebody says more. Counts them.

    Meant for a regular wake-up: without it, a repair's claim ends on the day that was hoped for.
    """
    now = timezone.now()
    late = Fault.objects.open().filter(severity=Severity.OUT, expected_back__lte=now)
    claimed = taken_ids(Span(now, now + timedelta(seconds=1)), purpose__in=[REPAIR, *ELSEWHERE])
    faults = [f for f in late.select_related("unit", "channel") if _thing(f).resource_id not in claimed]
    for fault in faults:
        with transaction.atomic():
            hold(fault.unit)
            settle(fault)
    return len(faults)


def hold(unit: GearUnit) -> None:
    """One at a time: nobody else takes or frees this unit or its channels until the transaction ends."""
    ids = _resource_ids(unit, None)
    list(Resource.objects.select_for_update().filter(pk__in=ids).order_by("pk").values_list("pk"))


def _thing(fault: Fault) -> GearUnit | Channel:
    return fault.channel or fault.unit


def _resource_ids(unit: GearUnit, channel: Channel | None) -> list[int]:
    """A whole unit is its own resource and those of all its channels."""
    if channel is not None:
        return [channel.resource_id]
    return [unit.resource_id, *unit.channels.values_list("resource_id", flat=True)]


def settle(fault: Fault) -> None:
    """Make the unit's repair claims, from now on, what its open faults ask for; then tell everyone."""
    now, unit = timezone.now(), fault.unit
    ids = _resource_ids(unit, None)
    elsewhere = _spans(ids, ELSEWHERE, now)
    asked = {pk: (by, _left(want, elsewhere[pk])) for pk, (by, want) in _wanted(unit, now).items()}
    repairs: dict[int, list[Claim]] = {pk: [] for pk in ids}
    for claim in Claim.objects.filter(purpose=REPAIR, resource_id__in=ids).overlapping(Span(now, None)):
        repairs[claim.resource_id].append(claim)
    given_up: dict[Origin, None] = {}
    for pk, standing in repairs.items():
        by, wanted = asked.get(pk, (fault, []))
        if _as_asked(standing, by, wanted, now):
            continue
        for claim in standing:
            _give_up(claim, now)
        for want in wanted:
            given_up |= dict.fromkeys(_make_room(want, now))
        take(by, wanted)
    if fault.effect != Fault.Effect.MISSING:  # who misses or finds a thing says where it is as well
        _keep_lent(unit, now)
    gear_state_changed.send(Fault, unit=unit, fault=fault, given_up=list(given_up))


def make_way(unit: GearUnit) -> None:
    """Its repair claims end now, since it goes elsewhere; `resume` claims anew what its faults ask for."""
    now, ids = timezone.now(), _resource_ids(unit, None)
    for claim in Claim.objects.filter(purpose=REPAIR, resource_id__in=ids, until__gt=now):
        _give_up(claim, now)


def resume(unit: GearUnit) -> None:
    """It is where it is: what its open faults ask for is claimed around that."""
    out = unit.faults.open().filter(severity=Severity.OUT)
    if fault := out.select_related("unit__site", "channel").first():
        settle(fault)


def _as_asked(standing: Sequence[Claim], by: Fault, wanted: Sequence[Wanted], now: datetime) -> bool:
    stands = {(claim.origin_id, Span(max(claim.starts, now), claim.ends)) for claim in standing}
    return stands == {(by.pk, want.span) for want in wanted}


def _left(want: Wanted, elsewhere: Sequence[Span]) -> list[Wanted]:
    """What no journey and no hire takes: a repair neither hastens what travels nor brings it here."""
    return [replace(want, span=gap) for gap in gaps(elsewhere, want.span)]


def _spans(resource_ids: Sequence[int], purposes: Sequence[str], now: datetime) -> dict[int, list[Span]]:
    """By resource, what is claimed for these purposes from now on. One query."""
    found: dict[int, list[Span]] = {pk: [] for pk in resource_ids}
    claims = Claim.objects.filter(purpose__in=purposes, resource_id__in=resource_ids)
    for claim in claims.overlapping(Span(now, None)):
        found[claim.resource_id].append(claim.span)
    return found


def _keep_lent(unit: GearUnit, now: datetime) -> None:
    """What is with somebody outside the house is not to be had, whatever was reported or mended meanwhile."""
    for stay in unit.stays.open().exclude(kind=Stay.Kind.ROOM):
        if stay.due_at is not None and stay.due_at <= now:
            continue
        span = Span(now, stay.due_at)
        busy: dict[int, list[Span]] = {pk: [] for pk in _resource_ids(unit, None)}
        for claim in Claim.objects.firm().filter(resource_id__in=busy).overlapping(span):
            busy[claim.resource_id].append(claim.span)
        left = [(pk, gap) for pk, taken in busy.items() for gap in gaps(taken, span)]
        take(stay, [Wanted(pk, gap, Claim.Purpose.LENT, stay.where) for pk, gap in left])


def _wanted(unit: GearUnit, now: datetime) -> dict[int, tuple[Fault, Wanted]]:
    """For each resource, the open fault that keeps it out longest, and the claim which that asks for."""
    wanted: dict[int, tuple[Fault, Wanted]] = {}
    out = unit.faults.open().filter(severity=Severity.OUT).select_related("unit", "channel__unit")
    for fault in out:
        span, reason = Span(now, _end(fault, now)), fault.words or fault.get_effect_display()
        for pk in _resource_ids(unit, fault.channel):
            if pk not in wanted or _longer(span, wanted[pk][1].span):
                wanted[pk] = (fault, Wanted(pk, span, REPAIR, reason))
    return wanted


def _longer(span: Span, other: Span) -> bool:
    return other.end is not None and (span.end is None or span.end > other.end)


def _end(fault: Fault, now: datetime) -> datetime | None:
    """Until when it is out. A return date that has passed is no longer known."""
    return fault.expected_back if fault.expected_back and fault.expected_back > now else None


def _make_room(want: Wanted, now: datetime) -> Iterator[Origin]:
    """Whoever holds what a repair wants gives it up from now on; says whose claims those were."""
    standing = Claim.objects.filter(resource_id=want.resource_id).overlapping(want.span)
    for claim in standing.order_by("starts", "pk"):
        yield claim.origin_type_id, claim.origin_id
        _give_up(claim, now)


def _give_up(claim: Claim, now: datetime) -> None:
    """The past stays: a claim that is running ends now, one that hasn't begun goes."""
    if claim.starts >= now:
        claim.delete()
    else:
        claim.ends = now
        claim.save(update_fields=["ends"])
