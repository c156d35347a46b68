"""A slot for service gives way to a session that runs on: the thing is due again, and the bench is told."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.contrib.contenttypes.models import ContentType
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from studio.clock import say_span
from studio.models import Claim, Person, Role, ServicePlan
from studio.notices import tell
from studio.service.rounds import Thing, things_of
from studio.service.slots import parts_of_rooms, resources_taken
from studio.spans import Span

USEFUL_FOR = timedelta(days=7)


def is_slot(now: datetime) -> Q:
    """Claims of service that hasn't begun: these give way."""
    return Q(origin_type=ContentType.objects.get_for_model(ServicePlan), starts__gt=now)


def slots_within(resource_ids: Iterable[int], span: Span, now: datetime) -> list[Claim]:
    found = Claim.objects.filter(is_slot(now), resource__in=list(resource_ids)).overlapping(span)
    return list(found.select_related("resource").order_by("starts", "pk"))


def make_way(resource_ids: Iterable[int], span: Span, why: str) -> None:
    """Give back, whole, every slot that takes one of these within the span. Call it within a transaction."""
    given: set[tuple[int, str]] = set()
    for claim in slots_within(resource_ids, span, timezone.now()):
        plan = ServicePlan.objects.select_related("unit", "stock__site", "gear_model").get(pk=claim.origin_id)
        for thing in things_of(plan):
            if (plan.pk, str(thing)) not in given and _give_back(plan, thing, claim):
                given.add((plan.pk, str(thing)))
                _tell(plan, thing, claim, why)


def _give_back(plan: ServicePlan, thing: Thing, claim: Claim) -> bool:
    """Whether the claim was of this thing's slot."""
    taken = resources_taken(plan, thing, parts_of_rooms([plan]))
    slot = Claim.objects.of(plan).filter(starts=claim.starts, resource__in=taken)
    if claim.resource_id not in taken or not slot.filter(resource=thing.resource_id).exists():
        return False
    slot.delete()
    return True


def _tell(plan: ServicePlan, thing: Thing, claim: Claim, why: str) -> None:
    when = say_span(claim.span, thing.site.tz)
    techs = Person.objects.with_role(Role.TECH).filter(Q(site=thing.site_id) | Q(site=None))
    for person in techs or Person.objects.with_role(Role.MANAGER):
        tell(
            person,
            f"service.{plan.pk}.{thing.pk}.{claim.starts:%Y%m%d%H%M}.way.{person.pk}",
            f"{plan.what}, {thing}: its time is gone",
            f"{plan.what}, {thing}, was to be done {when}. {why} It is on the bench's list again: choose another time.",
            timezone.now() + USEFUL_FOR,
            reverse("studio:bench"),
        )
