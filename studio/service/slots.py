"""When there is time for what falls due: free slots, never on top of a session or of a hold."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from django.utils import timezone

from studio.models import Claim, GearUnit, Room, ServicePlan, Site
from studio.service.due import Hours, Why, first_slot
from studio.service.rounds import SERVICE, Item, Thing, items
from studio.spans import Span

AHEAD = timedelta(days=14)
SLOTS_WITHIN = timedelta(days=60)
Taken = dict[int, Claim.Purpose]
Busy = dict[int, list[Span]]


def falling_due(ahead: timedelta = AHEAD) -> list[Item]:
    """What is due or falls due within this time, what is due first before the rest, each with a free slot."""
    now = timezone.now()
    due = [(item.due.at, item.plan.what, item.key, item) for item in items(now) if item.due.at]
    soon = sorted((row for row in due if row[0] <= now + ahead), key=lambda row: row[:3])
    return list(_with_offers([item for *_, item in soon], now))


def offered(found: Sequence[Item]) -> list[Item]:
    """Each with the first free slot, where it has none yet."""
    return list(_with_offers(found, timezone.now()))


def _with_offers(found: Sequence[Item], now: datetime) -> Iterator[Item]:
    """With the first free slot for each that has none yet. What is offered once isn't offered again on that site,
    so that nobody of the bench is meant to do two things at once."""
    parts = parts_of_rooms(item.plan for item in found)
    wanted = [set(resources_taken(item.plan, item.thing, parts)) for item in found]
    busy = _busy(set().union(*wanted), Span(now, now + SLOTS_WITHIN))
    ours: Busy = {item.thing.site_id: [] for item in found}
    for item in found:
        if item.slot:
            ours[item.thing.site_id].append(item.slot.span)
    for item, resources in zip(found, wanted, strict=True):
        bench = ours[item.thing.site_id]
        start = None if item.slot else _slot_for(item, [*_all(busy, resources), *bench], now)
        if start:
            bench.append(Span(start, start + timedelta(minutes=item.plan.minutes)))
        yield replace(item, offered=start)


def _all(busy: Busy, resources: Iterable[int]) -> Iterator[Span]:
    for pk in resources:
        yield from busy.get(pk, [])


def _slot_for(item: Item, busy: Sequence[Span], now: datetime) -> datetime | None:
    """The first in office hours; of what is due before a session, one before it and not too early."""
    before = item.due.why == Why.USE
    start = max(now, item.due.opens) if before else now
    end = item.due.at if before and item.due.at else now + SLOTS_WITHIN
    length = timedelta(minutes=item.plan.minutes)
    return first_slot(busy, Span(start, end), length, office_hours(item.thing.site)) if start < end else None


def office_hours(site: Site) -> Hours:
    return Hours(site.tz, site.opens, site.closes, frozenset(int(day) for day in site.office_days))


def _busy(resources: set[int], window: Span) -> Busy:
    """All that is claimed, also tentatively."""
    found: Busy = {}
    claims = Claim.objects.overlapping(window).filter(resource__in=resources)
    for resource_id, starts, ends in claims.values_list("resource_id", "starts", "ends"):
        found.setdefault(resource_id, []).append(Span(starts, ends))
    return found


Parts = dict[int, list[tuple[int, int]]]


def parts_of_rooms(plans: Iterable[ServicePlan]) -> Parts:
    """Of each room that is made of others: key and resource of those. No query where no plan takes a room."""
    found: Parts = {}
    if any(plan.takes_room for plan in plans):
        links = Room.parts.through.objects.values_list("from_room", "to_room", "to_room__resource")
        for whole, part, resource in links:
            found.setdefault(whole, []).append((part, resource))
    return found


def resources_taken(plan: ServicePlan, thing: Thing, parts: Parts) -> Taken:
    """What doing it takes: the unit with its channels, or all of the stock; and its room, where it wants that."""
    taken: Taken = {thing.resource_id: SERVICE}
    if isinstance(thing, GearUnit):
        taken |= {channel.resource_id: SERVICE for channel in thing.channels.all()}
        if plan.takes_room and thing.home_room is not None:
            rooms = [(thing.home_room.pk, thing.home_room.resource_id)]
            while rooms:
                pk, resource = rooms.pop()
                taken[resource] = Claim.Purpose.UPKEEP
                rooms += [part for part in parts.get(pk, []) if part[1] not in taken]
    return taken
