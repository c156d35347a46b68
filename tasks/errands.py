"""What must be fetched for a session, taken in or given back: hired gear, and gear that isn't where it lives."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models.signals import post_delete, post_save
from django.dispatch import receiver

from bookings.models import Rental, Session
from studio.clock import say
from studio.models import GearUnit, Stay
from studio.whereabouts.moves import travel_minutes
from studio.whereabouts.where import place_of
from tasks.checklists import cautions
from tasks.checklists.sheet import Line, Stage, key
from tasks.models import PlannedInput

CARRY_MINUTES = 10


def with_errands(session: Session, lines: Sequence[Line], inputs: Sequence[PlannedInput]) -> tuple[Line, ...]:
    """The checklist with its errands: first of all on the way in, last of all on the way out."""
    rentals = list(session.rentals.select_related("unit"))
    units = _units(session, inputs)
    before = [*(_take_in(session, rental) for rental in rentals), *_carry(session, units)]
    after = [*_carry_back(session, units), *(_give_back(session, rental) for rental in rentals)]
    return (*before, *lines, *after)


def _take_in(session: Session, rental: Rental) -> Line:
    return Line(
        key("take-in", rental.pk),
        Stage.SETUP,
        f"Take in {rental.what}{_from(rental)}"[:160],
        CARRY_MINUTES,
        (
            ("Arrives", say(rental.arrives_at, session.room.site.tz)),
            *_tag(rental),
            ("Check", "complete, undamaged, working; photograph what isn't"),
        ),
        cautions.LIFT,
    )


def _give_back(session: Session, rental: Rental) -> Line:
    return Line(
        key("give-back", rental.pk),
        Stage.BREAKDOWN,
        f"Give back {rental.what}{_from(rental)}"[:160],
        CARRY_MINUTES,
        (
            ("Back by", say(rental.back_at, session.room.site.tz)),
            *_tag(rental),
            ("Check", "complete, with leads and case; our labels off"),
        ),
        cautions.LIFT,
    )


def _from(rental: Rental) -> str:
    return f" ({rental.supplier})" if rental.supplier else ""


def _tag(rental: Rental) -> tuple[tuple[str, str], ...]:
    return (("Tag", rental.unit.tag),) if rental.unit else ()


def _units(session: Session, inputs: Sequence[PlannedInput]) -> list[GearUnit]:
    """What the session has by plan or by wish, each once."""
    found = {row.unit.pk: row.unit for row in inputs if row.unit}
    found |= {unit.pk: unit for unit in session.wanted_units.select_related("site", "home_room__site")}
    return sorted(found.values(), key=lambda unit: unit.tag)


def _carry(session: Session, units: Sequence[GearUnit]) -> list[Line]:
    """Of what stands in another room than it lives in, or at another site."""
    stays = Stay.objects.open().filter(unit__in=units, kind=Stay.Kind.ROOM).select_related("room__site")
    places = {stay.unit_id: stay for stay in stays if stay.room_id != session.room_id}
    lines = []
    for unit in units:
        stay, minutes = places.get(unit.pk), travel_minutes(unit.site, session.room.site)
        if not minutes and (stay is None or stay.room_id == unit.home_room_id):
            continue
        place = place_of(stay) if stay else f"{unit.where}, {unit.site.name}"
        way = f"{minutes} minutes each way" if minutes else "another room of the house"
        details = (("Fetch", f"{unit.tag} from {place}"), ("Way", way))
        title = f"Carry {unit.tag} from {place}"[:160]
        lines.append(
            Line(
                key("carry", unit.tag, place),
                Stage.SETUP,
                title,
                minutes or CARRY_MINUTES,
                details,
                cautions.LIFT,
            )
        )
    return lines


def _carry_back(session: Session, units: Sequence[GearUnit]) -> list[Line]:
    """Of what came from another site."""
    lines = []
    for unit in units:
        if minutes := travel_minutes(unit.site, session.room.site):
            title = f"Carry {unit.tag} back to {unit.site.name}"[:160]
            details = (("Way", f"{minutes} minutes"),)
            lines.append(
                Line(key("carry-back", unit.tag), Stage.BREAKDOWN, title, minutes, details, cautions.LIFT)
            )
    return lines


@receiver(post_save, sender=Rental, dispatch_uid="tasks.errands_of_rental")
def rental_saved(sender: type[Rental], instance: Rental, created: bool, **kwargs: Any) -> None:
    """A step of its way changes no checklist; a new line, another agreement, or a unit for it, does."""
    if created or {"unit", "arrives_at"} & set(kwargs.get("update_fields") or ()):
        _replan(instance)


@receiver(post_delete, sender=Rental, dispatch_uid="tasks.errands_of_dropped_rental")
def rental_dropped(sender: type[Rental], instance: Rental, **kwargs: Any) -> None:
    _replan(instance)


def _replan(rental: Rental) -> None:
    from tasks.follow import replan_soon  # which plans, and so makes checklists

    replan_soon([rental.session_id])
