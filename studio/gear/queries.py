"""Gear rows as pages want them, each in a constant number of queries."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from django.db.models import (
    Case,
    CharField,
    Count,
    Exists,
    F,
    IntegerField,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Coalesce
from django.utils import timezone

from studio.access import sees_house
from studio.claims import taken_ids
from studio.models import Channel, Claim, Fault, GearUnit, Person, Stay
from studio.spans import Span

WORKS, DOUBTED, LIMITED, OUT = range(4)


PHANTOM_SAID = Case(
    When(~Q(phantom=""), then=F("phantom")),
    When(gear_model__microphone__isnull=False, then=F("gear_model__microphone__phantom")),
    When(gear_model__direct_box__isnull=False, then=F("gear_model__direct_box__phantom")),
    default=Value(""),
    output_field=CharField(),
)
"""What a unit says about phantom: its own word, else its model's, else nothing."""


def whole_units() -> QuerySet[GearUnit]:
    """Units with all that `state_of` and the pages read of them."""
    return GearUnit.objects.select_related(
        "gear_model__microphone",
        "gear_model__preamp",
        "gear_model__direct_box",
        "site",
        "home_site",
        "home_room__site",
    ).prefetch_related(
        Prefetch("faults", Fault.objects.select_related("channel", "reported_by").prefetch_related("events")),
        Prefetch("channels", Channel.objects.order_by("number")),
        "parts",
        Prefetch("stays", Stay.objects.select_related("room__site")),
    )


def ranked_units() -> QuerySet[GearUnit]:
    """`rank` says how well a unit works now: WORKS, DOUBTED, LIMITED or OUT. Retired ones are left out."""
    return ranked(whole_units().filter(retired=False).annotate(phantom_said=PHANTOM_SAID))


def ranked(units: QuerySet[GearUnit], span: Span | None = None) -> QuerySet[GearUnit]:
    """With `rank` as it is now; within a span, as far as is known: what is promised back before it is in doubt."""
    stands, promised = _at_hand(span, "since", "closed_at", "expected_back")
    faults = Fault.objects.filter(stands, unit=OuterRef("pk"))
    whole = faults.filter(channel__isnull=True)
    out = faults.filter(severity=Fault.Severity.OUT)
    dead = (
        out.filter(channel__isnull=False)
        .order_by()
        .values("unit")
        .annotate(n=Count("channel", distinct=True))
    )
    bad = faults.exclude(severity=Fault.Severity.SUSPECTED)
    hoped = Fault.objects.filter(promised, unit=OuterRef("pk"))
    gone, due = _at_hand(span, "began_at", "ended_at", "due_at")
    stays = Stay.objects.filter(unit=OuterRef("pk")).exclude(kind=Stay.Kind.ROOM)
    every_channel = Q(gear_model__channels__gt=0, channels_out=F("gear_model__channels"))
    whole_out = Exists(whole.filter(severity=Fault.Severity.OUT))
    return units.annotate(
        channels_out=Coalesce(Subquery(dead.values("n"), output_field=IntegerField()), 0)
    ).annotate(
        rank=Case(
            When(whole_out | every_channel | Exists(stays.filter(gone)), then=Value(OUT)),
            When(Exists(bad), then=Value(LIMITED)),
            When(Exists(faults) | Exists(hoped) | Exists(stays.filter(due)), then=Value(DOUBTED)),
            default=Value(WORKS),
        )
    )


def _at_hand(span: Span | None, began: str, ended: str, promised: str) -> tuple[Q, Q]:
    """What goes on within the span, and what should be over before it by a promise that is still ahead; now: none."""
    if span is None:
        return Q(**{f"{ended}__isnull": True}), Q(pk__in=[])
    open_ = Q(**{f"{ended}__isnull": True})
    hoped = open_ & Q(**{f"{promised}__gt": timezone.now(), f"{promised}__lte": span.start})
    going_on = open_ | Q(**{f"{ended}__gt": span.start})
    begun = Q() if span.end is None else Q(**{f"{began}__lt": span.end})
    return begun & going_on & ~(hoped & Q(**{f"{promised}__isnull": False})), hoped


def claims_on(resource_ids: set[int], span: Span, viewer: Person | None) -> dict[int, list[Claim]]:
    """Claims of each resource within the span, first come first. Two queries at most.

    viewer: who reads what they are for; None for somebody who sees the whole house.
    """
    found: dict[int, list[Claim]] = {}
    claims = Claim.objects.overlapping(span).filter(resource_id__in=resource_ids).order_by("starts", "pk")
    for claim in claims if viewer is None or sees_house(viewer) else only_own_words(claims, viewer):
        found.setdefault(claim.resource_id, []).append(claim)
    return found


def only_own_words(claims: Iterable[Claim], viewer: Person) -> Iterator[Claim]:
    """For freelancers: what a claim is for is said only of what takes them too. Not to be saved."""
    own = set(Claim.objects.filter(resource=viewer.resource_id).values_list("origin_type_id", "origin_id"))
    for claim in claims:
        if (claim.origin_type_id, claim.origin_id) not in own:
            claim.reason = ""
        yield claim


def resources_of(unit: GearUnit) -> set[int]:
    return {unit.resource_id, *(channel.resource_id for channel in unit.channels.all())}


def free_throughout(units: QuerySet[GearUnit], span: Span) -> QuerySet[GearUnit]:
    """Those that nobody has within the span; of a unit with channels, one channel has to be free.

    Repairs and loans are claims too. A hold that isn't confirmed is in nobody's way.
    """
    taken = Exists(Claim.objects.firm().overlapping(span).filter(resource=OuterRef("resource")))
    channels = Channel.objects.filter(unit=OuterRef("pk"))
    return units.filter(~taken, ~Exists(channels) | Exists(channels.filter(~taken)))


def taken_at(at: datetime, until: datetime) -> set[int]:
    """Resources of gear that somebody has at some time of this span."""
    return taken_ids(Span(at, until), resource__kind__in=["unit", "channel"])
