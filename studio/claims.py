"""The only door to claims: take, release, what is in the way, when is it next free.

Two firm claims on one exclusive resource can't overlap. `take` holds the rows of the resources it wants (in
one order, so that two takers never wait for each other), looks, and writes; on SQLite the transaction itself
holds the write lock. Behind it the database refuses an overlap by itself (migration 0002_guards).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from django.contrib.contenttypes.models import ContentType
from django.db import IntegrityError, connection, models, transaction
from django.utils import timezone

from studio.models import Claim, Resource
from studio.models.claims import FAR_AHEAD, Origins
from studio.spans import Span, first_gap, peak_use

BUSY = """
    SELECT starts, until FROM studio_claim
    WHERE firm AND resource_id = %s AND until > %s AND starts < %s ORDER BY starts
"""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A claim that somebody would like to have."""

    resource_id: int
    span: Span
    purpose: Claim.Purpose
    reason: str
    firm: bool = True
    quantity: int = 1


@dataclass(frozen=True, slots=True)
class Clash:
    """What stands in the way of a wanted claim. claim is None where the count of a stock is too small.

    words: what is wrong with asking for it at all, whether it is free or not.
    """

    resource: Resource
    wanted: Wanted
    claim: Claim | None = None
    free: int = 0
    words: str = ""


class Conflict(Exception):
    """A claim could not be taken: `clashes` says what stands in the way."""

    def __init__(self, clashes: Sequence[Clash]) -> None:
        super().__init__(f"{len(clashes)} claims in the way")
        self.clashes = list(clashes)


def clashes_with(wanted: Sequence[Wanted], but_not: models.Model | None = None) -> list[Clash]:
    """What is in the way of these claims now, leaving out the claims of `but_not`. Two queries."""
    resources = Resource.objects.in_bulk({w.resource_id for w in wanted})
    return _clashes(wanted, resources, but_not)


def take(origin: models.Model, wanted: Sequence[Wanted], *, instead: Iterable[Claim.Purpose] = ()) -> None:
    """Take all or nothing for `origin`, giving up first its claims with the purposes in `instead`.

    Raises Conflict, and then nothing has changed.
    """
    with transaction.atomic():
        if purposes := list(instead):
            release(origin, purposes)
        ids = sorted({w.resource_id for w in wanted})
        held = Resource.objects.select_for_update().filter(pk__in=ids).order_by("pk")
        resources = {resource.pk: resource for resource in held}
        if clashes := _clashes(wanted, resources, but_not=None):
            raise Conflict(clashes)
        _write(origin, wanted, resources)


def _write(origin: models.Model, wanted: Sequence[Wanted], resources: dict[int, Resource]) -> None:
    kind = ContentType.objects.get_for_model(origin)
    rows = [
        Claim(
            resource_id=w.resource_id,
            starts=w.span.start,
            ends=w.span.end,
            purpose=w.purpose,
            firm=w.firm,
            exclusive=resources[w.resource_id].exclusive,
            quantity=w.quantity,
            reason=w.reason[:200],
            origin_type=kind,
            origin_id=origin.pk,
        )
        for w in wanted
    ]
    try:
        with transaction.atomic():
            Claim.objects.bulk_create(rows)
    except IntegrityError as error:
        raise Conflict(_clashes(wanted, resources, but_not=origin)) from error


def release(origin: models.Model, purposes: Iterable[Claim.Purpose] | None = None) -> None:
    """Give back what `origin` has taken: all of it, or the claims with these purposes."""
    claims = Claim.objects.of(origin)
    if purposes is not None:
        claims = claims.filter(purpose__in=list(purposes))
    claims.delete()


def in_the_way(resource_ids: Iterable[int], span: Span, but_not: Origins = None) -> models.QuerySet[Claim]:
    """Firm claims on these resources within the span, first come first."""
    found = Claim.objects.firm().overlapping(span).not_of(but_not).filter(resource_id__in=list(resource_ids))
    return found.select_related("resource").order_by("starts", "pk")


def busy_spans(resource_id: int, span: Span) -> list[Span]:
    """When the resource is firmly taken within the span, in order; what touches is one. One query.

    Asked more often than anything else, and so by hand: the ORM's own work would cost several times the query.
    """
    start, end = (connection.ops.adapt_datetimefield_value(at) for at in (span.start, span.end or FAR_AHEAD))
    with connection.cursor() as cursor:
        cursor.execute(BUSY, [resource_id, start, end])
        rows: list[tuple[datetime, datetime]] = cursor.fetchall()
    runs: list[tuple[datetime, datetime]] = []
    for starts, until in rows:
        if runs and starts <= runs[-1][1]:
            runs[-1] = runs[-1][0], max(until, runs[-1][1])
        else:
            runs.append((starts, until))
    return [_span(*run) for run in runs]


def _span(starts: datetime, until: datetime) -> Span:
    """From a row as the driver gives it: SQLite's times are UTC without saying so."""
    start, end = (each if each.tzinfo else each.replace(tzinfo=UTC) for each in (starts, until))
    return Span(start, None if end == FAR_AHEAD else end)


def taken_ids(span: Span, but_not: models.Model | None = None, **filters: Any) -> set[int]:
    """Exclusive resources that are firmly taken at some instant of the span."""
    found = Claim.objects.firm().filter(exclusive=True, **filters).overlapping(span).not_of(but_not)
    return set(found.values_list("resource_id", flat=True))


def counts_free(resource_ids: Iterable[int], span: Span, but_not: Origins = None) -> dict[int, int]:
    """How many of each counted stock are free throughout the span."""
    resources = Resource.objects.in_bulk(list(resource_ids))
    taken = _taken(resources, span, but_not)
    return {pk: r.capacity - peak_use(taken.get(pk, []), span) for pk, r in resources.items()}


def next_free(resource_id: int, length: timedelta, after: datetime | None = None) -> datetime | None:
    """The first instant from which the resource is free for `length`; None while no end is known."""
    start = after or timezone.now()
    claims = in_the_way([resource_id], Span(start, None))
    return first_gap([claim.span for claim in claims], start, length)


def _taken(resources: Iterable[int], span: Span, but_not: Origins) -> dict[int, list[tuple[Span, int]]]:
    taken: dict[int, list[tuple[Span, int]]] = {}
    for claim in in_the_way(resources, span, but_not):
        taken.setdefault(claim.resource_id, []).append((claim.span, claim.quantity))
    return taken


def _clashes(
    wanted: Sequence[Wanted], resources: dict[int, Resource], but_not: models.Model | None
) -> list[Clash]:
    firm = [w for w in wanted if w.firm]
    if not firm:
        return []
    ends = [w.span.end for w in firm]
    whole = Span(min(w.span.start for w in firm), None if None in ends else max(e for e in ends if e))
    standing: dict[int, list[Claim]] = {}
    for claim in in_the_way(resources, whole, but_not):
        standing.setdefault(claim.resource_id, []).append(claim)
    found: list[Clash] = []
    before: dict[int, list[Wanted]] = {}
    for want in firm:
        resource = resources[want.resource_id]
        claims, others = standing.get(resource.pk, []), before.setdefault(resource.pk, [])
        if resource.exclusive:
            found += [Clash(resource, want, claim) for claim in claims if claim.span.overlaps(want.span)]
            found += [Clash(resource, want) for other in others if other.span.overlaps(want.span)]
        else:
            beside = [(other.span, other.quantity) for other in others]
            used = peak_use([(c.span, c.quantity) for c in claims] + beside, want.span)
            if used + want.quantity > resource.capacity:
                found.append(Clash(resource, want, free=resource.capacity - used))
        others.append(want)
    return found
