"""What a person's page shows, in a constant number of queries."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery

from bookings.models import Crew, Session
from bookings.models.busy import zone_of
from bookings.people.forms import WEEKDAYS
from bookings.people.leave import parts_of
from bookings.people.warnings import AROUND, claims_of, rules_of
from studio.clock import say, say_length, say_span
from studio.models import Claim, Leave, Person, Site, WorkingHours
from studio.rest import Call, all_short_rests, rests_before, sentence
from studio.spans import Span

FORTNIGHT = timedelta(days=14)
SHOWN_CALLS, SHOWN_LEAVES = 30, 12


@dataclass(frozen=True, slots=True)
class LeaveLine:
    """One leave: when, and whether it can still be taken back. parts in words when it isn't all of it."""

    leave: Leave
    when: str
    parts: str
    stands: bool
    over: bool


def page_of(person: Person, now: datetime) -> dict[str, Any]:
    tz = zone_of(person)
    return {
        "person": person,
        "tz": tz,
        "roles": sorted(held.get_role_display() for held in person.roles_held.all()),
        "calls": calls_ahead(person, now),
        "week": [week_line(row) for row in person.working_hours.all()],
        "leaves": leave_lines(person, now),
        **rest_of(person, now),
    }


def calls_ahead(person: Person, now: datetime) -> QuerySet[Crew]:
    ahead = Crew.objects.filter(person=person, until__gt=now)
    standing = ahead.exclude(session__status=Session.Status.CANCELLED)
    return standing.select_related("session__room__site").order_by("call_at", "pk")[:SHOWN_CALLS]


def week_line(row: WorkingHours) -> str:
    """Like “Friday 20:00 to 02:00 of the next day”."""
    over = "" if row.ends > row.starts else " of the next day"
    return f"{dict(WEEKDAYS)[row.weekday]} {row.starts:%H:%M} to {row.ends:%H:%M}{over}"


def leave_lines(person: Person, now: datetime) -> list[LeaveLine]:
    leaves = list(person.leaves.order_by("-starts", "-pk")[:SHOWN_LEAVES])
    parts, tz = parts_of(leaves), zone_of(person)
    return [
        LeaveLine(
            leave,
            say_span(Span(leave.starts, leave.ends), tz),
            "; ".join(say_span(part, tz) for part in parts[leave.pk])
            if parts[leave.pk] != [Span(leave.starts, leave.ends)]
            else "",
            bool(parts[leave.pk]),
            leave.ends <= now,
        )
        for leave in reversed(leaves)
    ]


def rest_of(person: Person, now: datetime) -> dict[str, Any]:
    """The rest before each call of the coming fortnight, and sentences about the ones that are too short."""
    fortnight, tz = Span(now, now + FORTNIGHT), zone_of(person)
    claims = claims_of([person], fortnight, None).get(person.resource_id, [])
    called = [claim for claim in claims if claim.purpose == Claim.Purpose.CALL and claim.ends]
    calls = [Call(claim.span, claim.reason) for claim in called]
    site = person.site or Site.objects.order_by("pk").first()
    shorts = all_short_rests(calls, rules_of(site)) if site else []
    return {
        "site": site,
        "rests": [
            (call.title, say_span(call.span, tz), rest_words(rest))
            for call, rest in rests_before(calls)
            if call.span.overlaps(fortnight)
        ],
        "short": [
            sentence(person.name, short, tz, has="has")
            for short in shorts
            if short.period.overlaps(fortnight)
        ],
    }


def rest_words(rest: timedelta | None) -> str:
    if rest is None:
        return f"more than {AROUND.days - 1} days"
    return f"{rest.days} days" if rest >= timedelta(days=2) else say_length(rest)


def everybody(now: datetime) -> list[tuple[Person, str]]:
    """Who works here, with when their next call begins; nothing when none is booked."""
    calls = Crew.objects.filter(person=OuterRef("pk"), until__gt=now)
    standing = calls.exclude(session__status=Session.Status.CANCELLED).order_by("call_at", "pk")
    people = Person.objects.filter(is_active=True).select_related("site").order_by("name", "pk")
    people = people.prefetch_related("roles_held", "working_hours")
    found = people.annotate(next_call=Subquery(standing.values("call_at")[:1]))
    return [(person, say(person.next_call, zone_of(person)) if person.next_call else "") for person in found]
