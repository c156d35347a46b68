"""What is hired in, entered as a unit: it can be planned with between arrival and return, and at no other time."""

from __future__ import annotations

from datetime import datetime

from django.contrib.contenttypes.models import ContentType
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from bookings.history import note
from bookings.models import Rental, Session
from bookings.slipped import concerned
from studio import faults
from studio.access import Act, require
from studio.claims import Conflict, Wanted, take
from studio.clock import say
from studio.models import Claim, GearModel, GearUnit, Person
from studio.notices import tell
from studio.repairs import hold, make_way, resume
from studio.signals import house_changed
from studio.spans import Span
from studio.whereabouts.moves import free_from_now, in_the_way, resource_ids
from studio.whereabouts.parts import missing_itself

NOT_HERE = Claim.Purpose.NOT_HERE


class RentalRefused(ValueError):
    """The message is a sentence that says what to do."""


def enter_unit(by: Person, rental: Rental, gear_model: GearModel, tag: str) -> GearUnit:
    """A unit of the supplier's, under a tag of the house's. A rental has one at most."""
    require(by, Act.BOOK)
    tag = " ".join(tag.split())[:40]
    with transaction.atomic():
        rental = (
            Rental.objects.select_for_update(of=("self",))
            .select_related("session__room__site")
            .get(pk=rental.pk)
        )
        if rental.unit is not None:
            raise RentalRefused(f"It is entered already, as {rental.unit}.")
        if not tag or GearUnit.objects.filter(tag__iexact=tag).exists():
            raise RentalRefused("Give it a tag that nothing else in the house has.")
        rental.unit = GearUnit.objects.create(
            gear_model=gear_model,
            tag=tag,
            site=rental.session.room.site,
            owner=(rental.supplier or "hired in")[:80],
            remark=f"hired in: {rental.what}",
        )
        rental.save(update_fields=["unit"])
        keep_out(by, rental)
        note(rental.session, by, "rental", f"{rental.what} is entered as {tag}.")
    return rental.unit


def keep_out(by: Person, rental: Rental) -> None:
    """Claim its unit for when it isn't in the house. Raises RentalRefused with whoever has it then."""
    if rental.unit is None:
        return
    unit = rental.unit
    with transaction.atomic():
        hold(unit)
        if rental.arrived_at:
            for fault in missing_itself(unit):
                faults.found(by, fault, "it has arrived")
        free_from_now(rental)
        make_way(unit)
        spans = away_spans(rental, timezone.now())  # after what was claimed until now has ended
        try:
            take(rental, [Wanted(pk, s, NOT_HERE, "hired in") for pk in resource_ids(unit) for s in spans])
        except Conflict as conflict:
            raise RentalRefused(in_the_way(unit, [c.claim for c in conflict.clashes if c.claim])) from None
        unit.retired = rental.returned_at is not None
        unit.save(update_fields=["retired"])
        resume(unit)
        house_changed.send(GearUnit, thing=unit)


def push_out(by: Person, rental: Rental) -> None:
    """As keep_out; sessions that have it when it won't be here give it up, are planned anew and told."""
    if rental.unit is None:
        return
    with transaction.atomic():
        hold(rental.unit)
        hit: set[int] = set()
        for span in away_spans(rental, timezone.now()):
            hit |= give_up_uses(rental.unit, span)
        keep_out(by, rental)
        for session in Session.objects.standing().filter(pk__in=hit).with_all().order_by("downbeat", "pk"):
            for person in concerned(session):
                if person != by:
                    _tell(person, session, rental)


def give_up_uses(unit: GearUnit, span: Span) -> set[int]:
    """Sessions that had it within the span; a use that has begun keeps what has been."""
    kind, now = ContentType.objects.get_for_model(Session), timezone.now()
    uses = Claim.objects.filter(origin_type=kind, purpose=Claim.Purpose.GEAR, resource__in=resource_ids(unit))
    hit = set()
    for claim in uses.overlapping(span):
        hit.add(claim.origin_id)
        if claim.starts >= now:
            claim.delete()
        else:
            claim.ends = now
            claim.save(update_fields=["ends"])
    return hit


def _tell(person: Person, session: Session, rental: Rental) -> None:
    tz = session.room.site.tz
    dates = f"{say(rental.arrives_at, tz)} to {say(rental.back_at, tz)}"
    tell(
        person,
        f"rental.{rental.pk}.{rental.arrives_at:%Y%m%d%H%M}.{rental.back_at:%Y%m%d%H%M}.{session.pk}.{person.pk}",
        f"{rental.what} will not be there for {session.title}",
        f"{rental.what} ({rental.unit}) is hired in from {dates} now.\nIt was meant for “{session.title}”, "
        f"{session.room.name}, downbeat {say(session.downbeat, tz)}. The plan is made anew without it: look at "
        "what stands in.",
        session.clear_at,
        reverse("bookings:session", args=[session.pk]),
    )


def away_spans(rental: Rental, now: datetime) -> list[Span]:
    """From now on, when it isn't here: before it arrives and from its return."""
    if rental.returned_at is not None:
        return [Span(now, None)]
    before = rental.arrived_at is None and rental.arrives_at > now
    spans = [Span(now, rental.arrives_at)] if before else []
    return [*spans, Span(rental.back_at, None)] if rental.back_at > now else spans


def drop_unit(rental: Rental) -> None:
    """The hire is off: its unit is retired and nothing holds it any more."""
    if rental.unit is not None:
        free_from_now(rental)
        rental.unit.retired = True
        rental.unit.save(update_fields=["retired"])
        house_changed.send(GearUnit, thing=rental.unit)


def raise_late() -> int:
    """What should have arrived and hasn't is missing until it is here. Counts them. Meant for a wake-up."""
    now = timezone.now()
    late = Rental.objects.filter(
        unit__isnull=False, arrives_at__lte=now, arrived_at__isnull=True, returned_at__isnull=True
    )
    rentals = [r for r in late.select_related("unit__site") if r.unit and not missing_itself(r.unit)]
    for rental in rentals:
        if rental.unit:
            faults.miss(rental.unit, "hired in, and not here yet", rental.arrives_at)
    return len(rentals)
