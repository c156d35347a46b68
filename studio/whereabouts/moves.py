"""Moving units: here it is, send it elsewhere, lend it or hire it out. One transaction each."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

from django.db import transaction
from django.db.models import Model, Q
from django.utils import timezone

from studio import faults
from studio.access import Act, require
from studio.claims import Conflict, Wanted, take
from studio.clock import say_span
from studio.models import Claim, GearUnit, Journey, Person, Room, Site, Stay
from studio.repairs import hold, make_way, resume
from studio.signals import house_changed
from studio.spans import Span, gaps
from studio.whereabouts.parts import missing_itself

Kind, Purpose = Stay.Kind, Claim.Purpose
LONG_AGO = datetime(2000, 1, 1, tzinfo=UTC)
BETWEEN_SITES_MINUTES = 60  # until the house says how long a journey takes


class MoveRefused(ValueError):
    """What was asked can't be; the message is a sentence that says what is in the way and what to do."""


def here(by: Person, unit: GearUnit, room: Room, remark: str = "") -> Stay | None:
    """It is in this room now, whatever was thought before: found, back, arrived. None where that is its home."""
    require(by, Act.REPORT_FAULT)
    with transaction.atomic():
        hold(unit)
        _end_stay(by, unit)
        stay = None if room.pk == unit.home_room_id else _stay(by, unit, Kind.ROOM, room=room, remark=remark)
        _belongs_to(unit, room.site)
        for fault in missing_itself(unit):
            faults.found(by, fault, f"found in {room}")
        resume(unit)
    return stay


def back_home(by: Person, unit: GearUnit) -> None:
    """It is back in its place, whatever was thought before; a floater's is where it is kept at its own site."""
    require(by, Act.REPORT_FAULT)
    with transaction.atomic():
        hold(unit)
        _end_stay(by, unit)
        _belongs_to(unit, unit.home_room.site if unit.home_room else unit.home_site or unit.site)
        for fault in missing_itself(unit):
            faults.found(by, fault, "back in its place")
        resume(unit)


def send(by: Person, unit: GearUnit, room: Room, due_at: datetime | None = None) -> Stay:
    """Send it to a room now; to another site it can't be had while it travels, and from then on counts there.

    Raises MoveRefused where a session has it on the way, or needs it where it leaves.
    """
    require(by, Act.MOVE_GEAR)
    _not_past(due_at)
    with transaction.atomic():
        hold(unit)
        if room.site_id != unit.site_id:
            refuse_if_needed(unit, room.site, timezone.now())
        minutes = travel_minutes(unit.site, room.site)
        _end_stay(by, unit)
        stay = _stay(by, unit, Kind.ROOM, room=room, due_at=due_at)
        if minutes:
            span = Span(stay.began_at, stay.began_at + timedelta(minutes=minutes))
            make_way(unit)
            claim(stay, unit, span, Purpose.TRAVEL, f"on its way to {room}")
        _belongs_to(unit, room.site)
        resume(unit)
    return stay


def lend(
    by: Person, unit: GearUnit, kind: str, holder: str, due_at: datetime | None, remark: str = ""
) -> Stay:
    """Lent (Kind.LOAN) or hired out (Kind.HIRE_OUT) from now until due_at; None: until it is back.

    Raises MoveRefused with the name of the session that has it meanwhile.
    """
    require(by, Act.KEEP_GEAR)
    _not_past(due_at)
    if not holder.strip():
        raise MoveRefused("Say who takes it with them.")
    with transaction.atomic():
        hold(unit)
        _end_stay(by, unit)
        stay = _stay(by, unit, kind, holder=holder.strip()[:120], due_at=due_at, remark=remark[:300])
        span = Span(timezone.now(), due_at)
        claim(stay, unit, span, Purpose.LENT, stay.where)
    return stay


def settle_there(by: Person, unit: GearUnit, storage: str = "") -> GearUnit:
    """Where it stands is its home from now on; storage: where in that room."""
    require(by, Act.KEEP_GEAR)
    with transaction.atomic():
        hold(unit)
        stay = unit.stays.open().filter(kind=Kind.ROOM).select_related("room").first()
        if stay is None or stay.room is None:
            raise MoveRefused("Say first which room it stands in; then that can be its home.")
        _remember_home(unit, stay.began_at)
        unit.home_room, unit.home_site = stay.room, None
        unit.storage = " ".join(storage.split())[:120]
        unit.save(update_fields=["home_room", "home_site", "storage"])
        stay.due_at = None
        stay.save(update_fields=["due_at"])
        house_changed.send(GearUnit, thing=unit)
    return unit


def _remember_home(unit: GearUnit, until: datetime) -> None:
    """When it was at its old home it still was there, whatever its home is from now on."""
    if unit.home_room is None:
        return
    away = [stay.span for stay in unit.stays.filter(began_at__lt=until)]
    Stay.objects.bulk_create(
        Stay(unit=unit, kind=Kind.ROOM, room=unit.home_room, began_at=gap.start, ended_at=gap.end)
        for gap in gaps(away, Span(LONG_AGO, until))
    )


def extend(by: Person, stay: Stay, due_at: datetime | None) -> Stay:
    """Another date by which it is back; None: not known."""
    require(by, Act.KEEP_GEAR)
    _not_past(due_at)
    with transaction.atomic():
        hold(stay.unit)
        stay.refresh_from_db()
        if stay.ended_at is not None:
            raise MoveRefused(f"{stay.unit} is back already; nothing was changed.")
        stay.due_at = due_at
        stay.save(update_fields=["due_at"])
        if stay.kind != Kind.ROOM:
            free_from_now(stay)
            span = Span(timezone.now(), due_at)
            for fault in missing_itself(stay.unit):
                faults.found(by, fault, "its return date was put off")
            claim(stay, stay.unit, span, Purpose.LENT, stay.where)
    return stay


def raise_overdue() -> int:
    """What was due back from somebody and isn't is missing until somebody has it again. Counts them.

    Meant for a regular wake-up: without it, the claim of a loan ends on the day that was agreed.
    """
    now = timezone.now()
    late = Stay.objects.open().exclude(kind=Kind.ROOM).filter(due_at__lte=now)
    stays = [stay for stay in late.select_related("unit__site") if not missing_itself(stay.unit)]
    for stay in stays:
        faults.miss(stay.unit, f"{stay.where}, not back when it was due", stay.due_at or now)
    return len(stays)


def travel_minutes(one: Site, other: Site) -> int:
    """How long gear travels between two sites; 0 within one."""
    if one.pk == other.pk:
        return 0
    first, second = sorted([one.pk, other.pk])
    known = Journey.objects.filter(first=first, second=second).values_list("minutes", flat=True).first()
    return BETWEEN_SITES_MINUTES if known is None else known


def _belongs_to(unit: GearUnit, site: Site) -> None:
    """A unit counts for the site where it is; whatever relied on it elsewhere is planned anew."""
    if unit.site_id != site.pk:
        if unit.home_room_id is None:
            home = unit.home_site or unit.site
            unit.home_site = None if home.pk == site.pk else home
        unit.site = site
        unit.save(update_fields=["site", "home_site"])
        house_changed.send(GearUnit, thing=unit)


def _stay(by: Person, unit: GearUnit, kind: str, **fields: object) -> Stay:
    return Stay.objects.create(unit=unit, kind=kind, began_at=timezone.now(), moved_by=by, **fields)


def _end_stay(by: Person, unit: GearUnit) -> None:
    now = timezone.now()
    for stay in unit.stays.open():
        free_from_now(stay)
        stay.ended_at, stay.returned_by = now, by
        stay.save(update_fields=["ended_at", "returned_by"])


def free_from_now(origin: Model) -> None:
    """What it claimed is free from now on; what has been stays."""
    now = timezone.now()
    Claim.objects.of(origin).filter(starts__gte=now).delete()
    Claim.objects.of(origin).filter(Q(ends__isnull=True) | Q(ends__gt=now)).update(ends=now)


def resource_ids(unit: GearUnit) -> list[int]:
    """A whole unit is its own resource and those of all its channels."""
    return [unit.resource_id, *unit.channels.values_list("resource_id", flat=True)]


def claim(origin: Model, unit: GearUnit, span: Span, purpose: Claim.Purpose, reason: str) -> None:
    """The whole unit. Raises MoveRefused with the name of whoever has it."""
    try:
        take(origin, [Wanted(pk, span, purpose, reason) for pk in resource_ids(unit)])
    except Conflict as conflict:
        standing = [clash.claim for clash in conflict.clashes if clash.claim]
        raise MoveRefused(in_the_way(unit, standing)) from None


def in_the_way(unit: GearUnit, standing: Iterable[Claim]) -> str:
    """One sentence that names whoever has it."""
    first, *_ = sorted(standing, key=lambda claim: claim.starts)
    what = f"“{first.reason}”" if first.reason else first.get_purpose_display()
    when = say_span(first.span, unit.site.tz)
    return (
        f"{unit} is taken: {what}, {when} ({first.get_purpose_display()}). "
        "Swap it there first, or choose an earlier time to have it back."
    )


def refuse_if_needed(unit: GearUnit, site: Site, leaves_at: datetime) -> None:
    """A session that isn't at the site where it goes has it from then on."""
    ahead = Claim.objects.firm().filter(purpose=Purpose.GEAR, resource__in=resource_ids(unit))
    for claim in ahead.overlapping(Span(leaves_at, None)).order_by("starts", "pk"):
        rooms = Claim.objects.filter(origin_type=claim.origin_type_id, origin_id=claim.origin_id)
        if not rooms.filter(resource__room__site=site).exists():
            raise MoveRefused(in_the_way(unit, [claim]))


def _not_past(due_at: datetime | None) -> None:
    if due_at is not None and due_at <= timezone.now():
        raise MoveRefused("That time is past. Choose a later one, or leave it empty while nobody knows.")
