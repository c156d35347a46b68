"""Service use cases: plan, take a slot, give it up, say that it is done. One transaction each."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from studio.access import Act, require
from studio.claims import Conflict, Wanted, take
from studio.clock import say_span
from studio.faults import report_fault
from studio.models import Claim, Fault, GearUnit, Person, ServiceDone, ServicePlan, Stock
from studio.service.rounds import Thing, items, thing_of
from studio.service.slots import Taken, parts_of_rooms, resources_taken
from studio.spans import Span

TAKES = ("unit_id", "gear_model_id", "stock_id", "minutes", "takes_room")


class ServiceRefused(ValueError):
    """It can't be done so; the message says why and what to do."""


def save_plan(by: Person, plan: ServicePlan) -> ServicePlan:
    """A new or changed plan. One that ends, or takes something else or longer than before, gives its slots back."""
    require(by, Act.MEND)
    with transaction.atomic():
        before = ServicePlan.objects.filter(pk=plan.pk).first()
        plan.save()
        if before and (plan.ended or any(getattr(before, name) != getattr(plan, name) for name in TAKES)):
            Claim.objects.of(plan).filter(starts__gt=timezone.now()).delete()
    return plan


def take_slot(by: Person, plan: ServicePlan, key: str, start: datetime) -> Span:
    """Take the thing with this key for as long as the plan says, instead of its slot until now.

    Raises ServiceRefused where a session, a hold or anything else has it; nothing is taken then.
    """
    require(by, Act.MEND)
    if start <= timezone.now():
        raise ServiceRefused("That time is past. Choose a later one.")
    span = Span(start, start + timedelta(minutes=plan.minutes))
    with transaction.atomic():
        plan, thing = _held(plan, key)
        taken = resources_taken(plan, thing, parts_of_rooms([plan]))
        _give_back(plan, taken)
        if (
            other := Claim.objects.overlapping(span)
            .filter(resource__in=taken)
            .order_by("starts", "pk")
            .first()
        ):
            raise ServiceRefused(_in_the_way(other, thing))
        amount = {thing.resource_id: thing.count} if isinstance(thing, Stock) else {}
        try:
            take(plan, [_wanted(pk, span, why, plan, amount.get(pk, 1)) for pk, why in taken.items()])
        except Conflict:
            raise ServiceRefused(
                "Somebody was quicker: it has just been taken then. Choose another time."
            ) from None
    return span


def give_up_slot(by: Person, plan: ServicePlan, key: str) -> None:
    require(by, Act.MEND)
    with transaction.atomic():
        plan, thing = _held(plan, key)
        _give_back(plan, resources_taken(plan, thing, parts_of_rooms([plan])))


def done(by: Person, plan: ServicePlan, key: str, note: str, passed: bool = True) -> ServiceDone | Fault:
    """It has been done, and is counted anew from now on; its slot ends.

    What didn't pass is out of use from now on, and stays due until it has passed: the fault is given back then.
    """
    require(by, Act.MEND)
    now = timezone.now()
    with transaction.atomic():
        plan, thing = _held(plan, key)
        _give_back(plan, resources_taken(plan, thing, parts_of_rooms([plan])))
        if passed:
            return _done(by, plan, thing, note, now)
        if isinstance(thing, Stock):
            raise ServiceRefused(
                "Take what failed out of the count of the stock first, then say that the round is done."
            )
        words = f"{plan.what}: did not pass. {note}".strip()[:300]
        return report_fault(by, thing, None, Fault.Effect.OTHER, Fault.Severity.OUT, words)


def _done(by: Person, plan: ServicePlan, thing: Thing, note: str, now: datetime) -> ServiceDone:
    hours = next((item.due.hours for item in items(now, [plan]) if item.thing == thing), 0.0)
    unit, stock = (thing, None) if isinstance(thing, GearUnit) else (None, thing)
    return ServiceDone.objects.create(
        plan=plan, unit=unit, stock=stock, at=now, by=by, hours_used=hours, note=note[:300]
    )


def _held(plan: ServicePlan, key: str) -> tuple[ServicePlan, Thing]:
    """The plan, held so that two presses come one after the other, and the thing meant."""
    ServicePlan.objects.select_for_update().get(pk=plan.pk)
    plan = ServicePlan.objects.select_related("unit", "stock__site", "gear_model").get(pk=plan.pk)
    thing = thing_of(plan, key)
    if thing is None or plan.ended:
        raise ServiceRefused("This plan has ended or is for something else now. Open the list again.")
    return plan, thing


def _give_back(plan: ServicePlan, taken: Taken) -> None:
    """The past stays: a slot that is running ends now, one that hasn't begun goes."""
    now = timezone.now()
    for claim in Claim.objects.of(plan).filter(resource__in=taken, until__gt=now):
        if claim.starts >= now:
            claim.delete()
        else:
            claim.ends = now
            claim.save(update_fields=["ends"])


def _wanted(resource: int, span: Span, why: Claim.Purpose, plan: ServicePlan, amount: int) -> Wanted:
    return Wanted(resource, span, why, plan.what, quantity=amount)


def _in_the_way(claim: Claim, thing: Thing) -> str:
    what = f"“{claim.reason}”" if claim.reason else claim.get_purpose_display()
    when = say_span(claim.span, thing.site.tz)
    return f"{claim.resource} is taken then: {what}, {when}. Choose another time; a session is never moved for it."
