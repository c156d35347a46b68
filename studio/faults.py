"""Faults: report, judge, take to the bench, say when it is back, mend. One transaction each.

What is out of use is claimed for repair from now on, open-ended until a return date is known. A repair wins:
bookings that hold the unit or channel give it up from now on, and `gear_state_changed` names them.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from studio.access import Act, require
from studio.claims import Wanted, take, taken_ids
from studio.models import Channel, Claim, Fault, GearUnit, Person, Resource
from studio.signals import gear_state_changed
from studio.spans import Span

Effect, Severity, Step = Fault.Effect, Fault.Severity, Fault.Step
Origin = tuple[int, int]

USUAL_SEVERITY = {
    Effect.DEAD: Severity.OUT,
    Effect.NO_PHANTOM: Severity.LIMITED,
    Effect.NOISY: Severity.LIMITED,
    Effect.PAD_STUCK: Severity.LIMITED,
    Effect.CRACKLES: Severity.SUSPECTED,
    Effect.PATTERN: Severity.LIMITED,
    Effect.MISSING: Severity.OUT,
    Effect.OTHER: Severity.SUSPECTED,
}
SAME_PRESS = timedelta(minutes=1)


class FaultRefused(ValueError):
    """What was asked makes no sense; the message is a sentence that says what to do."""


def report_fault(
    by: Person,
    unit: GearUnit,
    channel: Channel | None,
    effect: str,
    severity: str | None = None,
    words: str = "",
    since: datetime | None = None,
) -> Fault:
    """Report what a unit, or one channel of it, does. severity None: as bad as this effect usually is.

    Pressing twice makes one fault. Raises PermissionDenied and FaultRefused.
    """
    require(by, Act.REPORT_FAULT)
    now = timezone.now()
    if since is not None and since > now:
        raise FaultRefused("A fault can't begin in the future. Leave the time empty for now.")
    if channel is not None and channel.unit_id != unit.pk:
        raise FaultRefused(f"{unit} has no such channel. Choose one of its own.")
    with transaction.atomic():
        _lock(unit)
        said = {
            "unit": unit,
            "channel": channel,
            "effect": effect,
            "severity": severity or USUAL_SEVERITY[Effect(effect)],
            "words": words,
            "reported_by": by,
        }
        if same := Fault.objects.open().filter(reported_at__gt=now - SAME_PRESS, **said).first():
            return same
        fault = Fault.objects.create(since=since or now, reported_at=now, **said)
        _settle(fault)
    return fault


def set_severity(by: Person, fault: Fault, severity: str) -> Fault:
    """Judge a fault anew: out of use, usable with a limit, or suspected."""
    return _change(by, fault, severity=Severity(severity).value)


def start_bench(by: Person, fault: Fault) -> Fault:
    """On the bench, and so out of use, whatever it could still do before."""
    return _change(by, fault, step=Step.ON_BENCH, severity=Severity.OUT)


def send_away(by: Person, fault: Fault) -> Fault:
    return _change(by, fault, step=Step.AWAY, severity=Severity.OUT)


def set_expected_back(by: Person, fault: Fault, when: datetime | None) -> Fault:
    """Say when it should be back; None: not known. Raises FaultRefused for a time that is past."""
    if when is not None and when <= timezone.now():
        raise FaultRefused("That time is past. Choose a later one, or press “Mended” if it is back.")
    return _change(by, fault, expected_back=when)


def mend(by: Person, fault: Fault, outcome: str) -> Fault:
    """Close the fault and release what it held from now on; what has been stays."""
    return _change(by, fault, step=Step.MENDED, outcome=outcome, closed_at=timezone.now())


def keep_overdue_out() -> int:
    """What was expected back and isn't stays claimed, open-ended, until somebody says more. Counts them.

    Meant for a regular wake-up: without it, a repair's claim ends on the day that was hoped for.
    """
    now = timezone.now()
    late = Fault.objects.open().filter(severity=Severity.OUT, expected_back__lte=now)
    claimed = taken_ids(Span(now, now + timedelta(seconds=1)), purpose=Claim.Purpose.REPAIR)
    faults = [f for f in late.select_related("unit", "channel") if _thing(f).resource_id not in claimed]
    for fault in faults:
        with transaction.atomic():
            _lock(fault.unit)
            _settle(fault)
    return len(faults)


def _change(by: Person, fault: Fault, **fields: object) -> Fault:
    """Set these fields of a fault that is open, and claim what that asks for. A closed fault stays closed."""
    require(by, Act.MEND)
    with transaction.atomic():
        _lock(fault.unit)
        fault.refresh_from_db()
        if fault.closed_at is not None:
            return fault
        for name, value in fields.items():
            setattr(fault, name, value)
        fault.save(update_fields=list(fields))
        _settle(fault)
    return fault


def _lock(unit: GearUnit) -> None:
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


def _settle(fault: Fault) -> None:
    """Make the unit's repair claims, from now on, what its open faults ask for; then tell everyone."""
    now, unit = timezone.now(), fault.unit
    wanted = _wanted(unit, now)
    repairs = Claim.objects.filter(
        purpose=Claim.Purpose.REPAIR, resource_id__in=_resource_ids(unit, None)
    ).overlapping(Span(now, None))
    for claim in repairs:
        asked = wanted.get(claim.resource_id)
        if asked and (asked[0].pk, asked[1].span.end) == (claim.origin_id, claim.ends):
            del wanted[claim.resource_id]
        else:
            _give_up(claim, now)
    given_up = _make_room([want for _, want in wanted.values()], now)
    for origin in {origin.pk: origin for origin, _ in wanted.values()}.values():
        take(origin, [want for by, want in wanted.values() if by.pk == origin.pk])
    gear_state_changed.send(Fault, unit=unit, fault=fault, given_up=given_up)


def _wanted(unit: GearUnit, now: datetime) -> dict[int, tuple[Fault, Wanted]]:
    """For each resource, the open fault that keeps it out longest, and the claim which that asks for."""
    wanted: dict[int, tuple[Fault, Wanted]] = {}
    out = unit.faults.open().filter(severity=Severity.OUT).select_related("unit", "channel__unit")
    for fault in out:
        span, reason = Span(now, _end(fault, now)), fault.words or fault.get_effect_display()
        for pk in _resource_ids(unit, fault.channel):
            if pk not in wanted or _longer(span, wanted[pk][1].span):
                wanted[pk] = (fault, Wanted(pk, span, Claim.Purpose.REPAIR, reason))
    return wanted


def _longer(span: Span, other: Span) -> bool:
    return other.end is not None and (span.end is None or span.end > other.end)


def _end(fault: Fault, now: datetime) -> datetime | None:
    """Until when it is out. A return date that has passed is no longer known."""
    return fault.expected_back if fault.expected_back and fault.expected_back > now else None


def _make_room(wanted: Iterable[Wanted], now: datetime) -> list[Origin]:
    """Whoever holds what a repair wants gives it up from now on; returns whose claims those were."""
    origins: dict[Origin, None] = {}
    for want in wanted:
        standing = Claim.objects.filter(resource_id=want.resource_id).overlapping(want.span)
        for claim in standing.exclude(purpose=Claim.Purpose.REPAIR):
            origins[claim.origin_type_id, claim.origin_id] = None
            _give_up(claim, now)
    return list(origins)


def _give_up(claim: Claim, now: datetime) -> None:
    """The past stays: a claim that is running ends now, one that hasn't begun goes."""
    if claim.starts >= now:
        claim.delete()
    else:
        claim.ends = now
        claim.save(update_fields=["ends"])
