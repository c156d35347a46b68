"""Where is it? Read from the stays of a unit; without an open one it is at home."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import F, Q, QuerySet
from django.utils import timezone

from studio.clock import say
from studio.models import Claim, GearUnit, Person, Room, Stay

Kind = Stay.Kind


@dataclass(frozen=True, slots=True)
class Where:
    """place in words; since and by: the last move, None where it never moved. travels_until: still on its way."""

    place: str
    at_home: bool
    room: Room | None = None
    since: datetime | None = None
    by: Person | None = None
    due_at: datetime | None = None
    travels_until: datetime | None = None
    outside: bool = False

    def overdue(self, now: datetime) -> bool:
        return self.due_at is not None and self.due_at <= now


def where_is(unit: GearUnit, at: datetime | None = None) -> Where:
    """At an instant, now if none is given. Two queries where it is away, one where it isn't."""
    when = at or timezone.now()
    last = (
        unit.stays.filter(began_at__lte=when)
        .select_related("room__site", "moved_by", "returned_by")
        .order_by("-began_at", "-pk")
        .first()
    )
    if last is None:
        return Where(unit.where, True, unit.home_room)
    if last.ended_at is not None and last.ended_at <= when:
        return Where(unit.where, True, unit.home_room, last.ended_at, last.returned_by)
    return _staying(unit, last, when)


def _staying(unit: GearUnit, stay: Stay, when: datetime) -> Where:
    travel = Claim.objects.of(stay).filter(purpose=Claim.Purpose.TRAVEL, starts__lte=when, ends__gt=when)
    until = travel.values_list("ends", flat=True).first()
    place = f"on its way to {place_of(stay)}" if until else place_of(stay)
    return Where(
        place,
        stay.room is not None and stay.room_id == unit.home_room_id,
        None if until else stay.room,
        stay.began_at if stay.moved_by else None,
        stay.moved_by,
        stay.due_at,
        until,
        stay.kind != Kind.ROOM,
    )


def place_of(stay: Stay) -> str:
    return f"{stay.room.name}, {stay.room.site.name}" if stay.room else stay.where


def places_of(units: Iterable[GearUnit]) -> dict[int, str]:
    """Where each is now, in words, by key. One query."""
    found = {unit.pk: unit.where for unit in units}
    stays = Stay.objects.open().filter(unit__in=list(found)).select_related("room__site", "unit")
    moved = {
        stay.unit_id: place_of(stay)
        for stay in stays
        if not stay.room_id or stay.room_id != stay.unit.home_room_id
    }
    return found | moved


def in_words(where: Where, unit: GearUnit) -> str:
    """Like “lent to Tin Harbour since Tue 2 March, 16:40; due back Mon 8 March, 12:00”."""
    tz, now = unit.site.tz, timezone.now()
    words = [where.place + (f" since {say(where.since, tz)}" if where.since and not where.at_home else "")]
    if where.travels_until:
        words.append(f"there about {say(where.travels_until, tz)}")
    if where.due_at:
        words.append(f"{'was due' if where.overdue(now) else 'due'} back {say(where.due_at, tz)}")
    return "; ".join(words)


def units_in(room: Room) -> QuerySet[GearUnit]:
    """What should be found in the room now: what lives there and hasn't left, and what has been put there."""
    open_stays = Stay.objects.open()
    put_there = Q(pk__in=open_stays.filter(room=room).values("unit"))
    lives_there = Q(home_room=room) & ~Q(pk__in=open_stays.exclude(room=room).values("unit"))
    return GearUnit.objects.filter(put_there | lives_there, retired=False).order_by("tag")


def away_now() -> QuerySet[Stay]:
    """Open stays that aren't a home-coming, what is due first."""
    found = Stay.objects.open().select_related("unit__site", "unit__home_room", "room__site", "moved_by")
    return found.exclude(kind=Kind.ROOM, room=F("unit__home_room")).order_by("due_at", "began_at", "pk")
