"""Another unit or channel on one input of a session, in one press: plan, claims, checklist, and whom to tell."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import islice

from django.db import transaction
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from bookings.history import note
from bookings.models import Session
from studio.access import Act, require
from studio.claims import Conflict
from studio.clock import say
from studio.models import Channel, GearUnit, Person, Role
from studio.notices import tell
from tasks.models import Pin, Plan, PlannedInput
from tasks.plan_session import keep_plan
from tasks.planning import snapshot as records
from tasks.planning.swap import Spot, Substitute, breaks, substitutes, swapped
from tasks.snapshots import Looked
from tasks.solving import because
from tasks.standing import standing_plan
from tasks.weighing import costs_here

BY_HAND = "changed by hand"
SHOWN = 5


class NotSwapped(ValueError):
    """It can't be swapped so; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class Use:
    """One input of a session to come that relies on a unit or a channel, and what could stand in, nearest first."""

    session: Session
    input: PlannedInput
    instead: list[Substitute]


def uses_of(unit: GearUnit, channel: Channel | None, viewer: Person, most: int = 3) -> list[Use]:
    """The next sessions that rely on the unit, or on that channel of it; those that the viewer may know of."""
    relies = Q(unit=unit) | Q(preamp_channel__unit=unit) if channel is None else Q(preamp_channel=channel)
    seen = Session.objects.seen_by(viewer).standing().filter(end__gt=timezone.now())
    found = PlannedInput.objects.filter(relies, plan__session__in=seen).order_by(
        "plan__session__setup_at", "number"
    )
    return [
        Use(session, row, list(instead)) for session, row, instead in _offers(found[:most], unit, channel)
    ]


def _offers(
    rows: Iterable[PlannedInput], unit: GearUnit, channel: Channel | None
) -> Iterator[tuple[Session, PlannedInput, Iterator[Substitute]]]:
    for row in rows:
        session = Session.objects.with_all().get(plan=row.plan_id)
        looked, plan = standing_plan(session)
        of_a_channel = channel is not None or row.unit_id != unit.pk
        found = substitutes(looked.snapshot, plan, row.number, costs_here())
        fitting = (s for s in found if bool(s.spot) == of_a_channel)
        yield session, row, islice(fitting, SHOWN)


def offers_for(row: PlannedInput) -> list[Substitute]:
    """Everything that could stand in on one input: units first, then channels."""
    looked, plan = standing_plan(Session.objects.with_all().get(plan=row.plan_id))
    return list(substitutes(looked.snapshot, plan, row.number, costs_here()))


def swap(by: Person, input_id: int, *, unit: str = "", spot: Spot | None = None) -> PlannedInput:
    """Put this unit or channel on the input. A new plan keeps it where it can. Assistants are told once.

    Raises NotSwapped when a rule speaks against it or somebody was quicker, PermissionDenied.
    """
    require(by, Act.PLAN)
    with transaction.atomic():
        session, old = _locked(input_id)
        looked, plan = standing_plan(session)
        was = old.unit if unit else old.preamp_channel
        chosen = unit or (f"{spot[0]} channel {spot[1]}" if spot else "")
        if not _has(looked.snapshot, unit, spot):
            raise NotSwapped(
                f"{chosen or 'That'} is not free for this session or does not work. Choose another."
            )
        made = swapped(looked.snapshot, plan, old.number, unit=unit, spot=spot)
        if broken := breaks(looked.snapshot, plan, made):
            raise NotSwapped(f"{chosen} won't do: {broken[0]}. Choose another.")
        made = because(made, old.number, f"{chosen} was chosen by hand instead of {was}")
        try:
            kept = keep_plan(session, looked, replace(made, solver=_by_hand(made)), _questions(session))
        except Conflict:
            raise NotSwapped(f"Somebody was quicker: {chosen} has just been taken. Choose another.") from None
        pin = _pinned(session, old.label, by, looked, unit, spot)
        words = f"Input {old.number} {old.label}: {chosen} instead of {was}"
        note(session, by, "changed", f"{words}.")
        _tell_assistants(session, pin, words, by)
        return kept.inputs.get(number=old.number)


def _has(snapshot: records.Snapshot, unit: str, spot: Spot | None) -> bool:
    if unit:
        return any(each.tag == unit for each in snapshot.pickups)
    return any(
        (preamp.tag, channel.number) == spot for preamp in snapshot.preamps for channel in preamp.channels
    )


def _locked(input_id: int) -> tuple[Session, PlannedInput]:
    found = (
        PlannedInput.objects.select_related("plan", "unit", "preamp_channel__unit")
        .filter(pk=input_id)
        .first()
    )
    if found is None:
        raise NotSwapped("That list has been planned anew meanwhile. Open it again and choose there.")
    Session.objects.select_for_update().get(pk=found.plan.session_id)
    session = Session.objects.with_all().get(pk=found.plan.session_id)
    if session.cancelled or not PlannedInput.objects.filter(pk=input_id).exists():
        raise NotSwapped("That list has been planned anew meanwhile. Open it again and choose there.")
    return session, found


def _by_hand(made: records.Plan) -> records.SolverReport:
    return replace(made.solver, status=BY_HAND)


def _questions(session: Session) -> int:
    return Plan.objects.get(session=session).questions


def _pinned(session: Session, label: str, by: Person, looked: Looked, unit: str, spot: Spot | None) -> Pin:
    """The later choice for the same input stands."""
    session.pins.filter(label=label, unit__isnull=not unit).delete()
    return Pin.objects.create(
        session=session,
        label=label,
        unit=looked.units[unit] if unit else None,
        preamp_channel=looked.channels[spot] if spot else None,
        by=by,
        at=timezone.now(),
    )


def _tell_assistants(session: Session, pin: Pin, words: str, by: Person) -> None:
    tz = session.room.site.tz
    for call in session.crew.filter(role=Role.ASSISTANT, person__is_active=True).exclude(person=by):
        tell(
            call.person,
            f"{session.uid.hex}.swap.{pin.pk}.{call.person_id}",
            f"Changed for {say(session.downbeat, tz)}: {session.title}",
            f"{words}.\n{session.room.name}, downbeat {say(session.downbeat, tz)}. Changed by {by}.",
            session.clear_at,
            reverse("tasks:checklist", args=[session.pk]),
        )
