"""Moves that somebody is asked to make: each a task of its day, between sites with its way claimed."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from studio.access import Act, require, sees_house
from studio.models import Claim, GearUnit, Move, Person, Room
from studio.repairs import hold, make_way, resume
from studio.spans import Span
from studio.whereabouts import moves
from studio.whereabouts.moves import MoveRefused, free_from_now, travel_minutes

AHEAD = timedelta(hours=24)


def ask(by: Person, unit: GearUnit, room: Room, leaves_at: datetime, due_at: datetime | None = None) -> Move:
    """Somebody is to bring it to a room, leaving then; to another site it can't be had on its way.

    Raises MoveRefused where a session has it on the way, or needs it afterwards where it leaves.
    """
    require(by, Act.MOVE_GEAR)
    now = timezone.now()
    if leaves_at <= now:
        raise MoveRefused("That time is past. Choose a later one, or leave it empty if it leaves now.")
    minutes = travel_minutes(unit.site, room.site)
    if due_at is not None and due_at <= leaves_at + timedelta(minutes=minutes):
        raise MoveRefused("It is due back before it would be there. Choose a later time, or leave it empty.")
    with transaction.atomic():
        hold(unit)
        if room.site_id != unit.site_id:
            moves.refuse_if_needed(unit, room.site, leaves_at)
        move = Move.objects.create(
            unit=unit,
            room=room,
            leaves_at=leaves_at,
            minutes=minutes,
            due_at=due_at,
            asked_by=by,
            asked_at=now,
        )
        if minutes:
            make_way(unit)
            span = Span(leaves_at, move.arrives_at)
            moves.claim(move, unit, span, Claim.Purpose.TRAVEL, f"to be brought to {room}")
            resume(unit)
    return move


def carried(by: Person, move: Move) -> Move:
    """It is there now. The first press stands."""
    require(by, Act.MOVE_GEAR)
    with transaction.atomic():
        move, first = _closed(by, move, done=True)
        if first:
            stay = moves.here(by, move.unit, move.room)
            if stay and move.due_at and move.due_at > timezone.now():
                stay.due_at = move.due_at
                stay.save(update_fields=["due_at"])
    return move


def call_off(by: Person, move: Move) -> Move:
    """It stays where it is. The first press stands."""
    require(by, Act.MOVE_GEAR)
    with transaction.atomic():
        move, first = _closed(by, move, done=False)
        if first:
            resume(move.unit)
    return move


def _closed(by: Person, move: Move, *, done: bool) -> tuple[Move, bool]:
    """The move, closed, its way free from now on; and whether this press closed it."""
    hold(move.unit)
    move = Move.objects.with_places().select_for_update(of=("self",)).get(pk=move.pk)
    if move.closed_at is not None:
        return move, False
    move.done, move.closed_at, move.closed_by = done, timezone.now(), by
    move.save(update_fields=["done", "closed_at", "closed_by"])
    free_from_now(move)
    return move, True


def to_carry(person: Person) -> list[Move]:
    """What should have left or leaves within a day, from or to the site of this person. Two queries."""
    if not sees_house(person):
        return []
    soon = Move.objects.open().with_places().filter(leaves_at__lte=timezone.now() + AHEAD)
    if person.site_id:
        soon = soon.filter(Q(unit__site=person.site_id) | Q(room__site=person.site_id))
    return list(soon)
