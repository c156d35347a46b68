"""A person's own calendars: taken from a file or an address, kept as a copy, turned into claims.

What is free of other claims is taken firmly. Where the person is already called (or the hour is taken by
something else), the busy time is noted beside it, not firm, and told: an import never undoes a booking.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from bookings.busy.fetching import Fetched, FetchProblem, fetch, parsed
from bookings.busy.reading import Outcome, Reading, read
from bookings.models import BusySource
from bookings.models.busy import zone_of
from studio.access import Act, may
from studio.claims import Wanted, in_the_way, release, take
from studio.clock import say_span
from studio.models import Claim, Person, Resource
from studio.spans import Span, gaps, merged

BACK, AHEAD = timedelta(days=31), timedelta(days=400)
BETWEEN_LOOKS = timedelta(minutes=10)  # less than beat's step: two wake-ups at once ask the server once
BETWEEN_READS = timedelta(hours=6)  # of a file: only its days and the person's calls move on
KEPT = ["packed_copy", "good_at", "problem", "reports"]
REASON = "Own calendar"


class NotTaken(Exception):
    """Nothing was taken: `reports` says why, in sentences."""

    def __init__(self, reports: tuple[str, ...]) -> None:
        super().__init__(" ".join(reports))
        self.reports = reports


def may_import(by: Person, person: Person) -> bool:
    return by == person or may(by, Act.SET_UP_HOUSE)


def require_import(by: Person, person: Person) -> None:
    if not may_import(by, person):
        raise PermissionDenied("Only the person themselves or a manager can take in someone's calendar.")


def import_busy(by: Person, person: Person, data: bytes, filename: str = "calendar.ics") -> BusySource:
    """Take the busy hours of an uploaded calendar instead of those of an earlier file of that name.

    Raises NotTaken (the earlier ones stay) and PermissionDenied.
    """
    require_import(by, person)
    now = timezone.now()
    reading = _read(person, data, now)
    with transaction.atomic():
        source, _ = BusySource.objects.get_or_create(person=person, filename=filename[-200:], address="")
        source.checked_at = now
        _keep(source, data, reading, now)
    return source


def subscribe(by: Person, person: Person, address: str) -> BusySource:
    """Take the busy hours of a calendar at an address, and look there again from now on.

    Raises FetchProblem, NotTaken and PermissionDenied; then nothing has changed.
    """
    require_import(by, person)
    parsed(address)
    now = timezone.now()
    fetched = _fetch(address)
    reading = _read(person, fetched.data or b"", now)
    with transaction.atomic():
        source, _ = BusySource.objects.get_or_create(person=person, address=address.strip(), filename="")
        source.etag, source.last_modified, source.checked_at = fetched.etag, fetched.last_modified, now
        _keep(source, fetched.data or b"", reading, now)
    return source


def forget(by: Person, source_id: int) -> None:
    """Drop a calendar with all that it takes. Raises BusySource.DoesNotExist and PermissionDenied."""
    with transaction.atomic():
        source = BusySource.objects.select_related("person").get(pk=source_id)
        require_import(by, source.person)
        release(source)
        source.delete()


def due(now: datetime) -> list[int]:
    """The calendars that beat has to look at: addresses, and files whose days move on."""
    found = BusySource.objects.filter(person__is_active=True).filter(_not_looked_at(now))
    return list(found.order_by("pk").values_list("pk", flat=True))


def look(source_id: int) -> bool:
    """Look at one calendar again if it is due; False when another worker just did. A failed look keeps the
    last good copy and marks it stale."""
    now = timezone.now()
    leased = BusySource.objects.filter(_not_looked_at(now), pk=source_id).update(checked_at=now)
    source = BusySource.objects.select_related("person__site").filter(pk=source_id).first()
    if not leased or source is None:
        return False
    try:
        fetched = _fetch_again(source)
        data = source.copy if fetched.data is None else fetched.data
        reading = _read(source.person, data, now)
    except (FetchProblem, NotTaken) as problem:
        BusySource.objects.filter(pk=source_id).update(problem=str(problem)[:400])
        return True
    if fetched.data is not None:
        source.etag, source.last_modified = fetched.etag, fetched.last_modified
    _keep(source, data, reading, now)
    return True


def _not_looked_at(now: datetime) -> Q:
    fetched, file = Q(checked_at__lt=now - BETWEEN_LOOKS), Q(checked_at__lt=now - BETWEEN_READS)
    return Q(checked_at__isnull=True) | (fetched & Q(filename="")) | file


def _fetch(address: str, etag: str = "", last_modified: str = "") -> Fetched:
    return fetch(address, etag, last_modified, allow_private=settings.ALLOW_PRIVATE_CALENDARS)


def _fetch_again(source: BusySource) -> Fetched:
    if not source.address:
        return Fetched(None)
    return _fetch(source.address, source.etag, source.last_modified)


def _read(person: Person, data: bytes, now: datetime) -> Reading:
    reading = read(data, zone_of(person), now - BACK, now + AHEAD, person.email)
    if reading.outcome == Outcome.ERROR:
        raise NotTaken(reading.reports)
    return reading


def _keep(source: BusySource, data: bytes, reading: Reading, now: datetime) -> None:
    """The good copy, what was said of it, and its claims: together or not at all."""
    source.copy, source.reports, source.good_at, source.problem = data, list(reading.reports), now, ""
    with transaction.atomic():
        source.save(update_fields=[*KEPT, "etag", "last_modified", "checked_at"])
        settle(source, merged(Span(one.start, one.end) for one in reading.busy))


def settle(source: BusySource, spans: list[Span]) -> None:
    """Make the source's claims those of `spans`; nothing is written when they are already."""
    resource_id = source.person.resource_id
    with transaction.atomic():
        Resource.objects.select_for_update().get(pk=resource_id)
        wanted = [
            Wanted(resource_id, span, Claim.Purpose.BUSY, REASON, firm=firm)
            for span, firm in _firm_where_free(source, spans)
        ]
        standing = Claim.objects.of(source).values_list("starts", "ends", "firm")
        if {(w.span.start, w.span.end, w.firm) for w in wanted} != set(standing):
            take(source, wanted, instead=[Claim.Purpose.BUSY])


def _firm_where_free(source: BusySource, spans: list[Span]) -> list[tuple[Span, bool]]:
    """Each span in pieces: firm where nothing else has the person, not firm where something does."""
    if not spans:
        return []
    whole = Span(spans[0].start, spans[-1].end)
    others = merged(claim.span for claim in in_the_way([source.person.resource_id], whole, source))
    pieces: list[tuple[Span, bool]] = []
    at = 0
    for span in spans:
        while at < len(others) and (end := others[at].end) is not None and end <= span.start:
            at += 1
        near = []
        for other in others[at:]:
            if span.end is not None and other.start >= span.end:
                break
            near.append(other)
        free = gaps(near, span)
        pieces += [(piece, True) for piece in free]
        pieces += [(piece, False) for piece in gaps(free, span)]
    return pieces


def ahead(person: Person, now: datetime) -> dict[int, list[Claim]]:
    """What each of a person's calendars takes from now on, by the calendar's number. One query."""
    kind = ContentType.objects.get_for_model(BusySource)
    found: dict[int, list[Claim]] = {}
    claims = Claim.objects.filter(resource_id=person.resource_id, origin_type=kind, until__gt=now)
    for claim in claims.order_by("starts", "pk"):
        found.setdefault(claim.origin_id, []).append(claim)
    return found


def overlaps(person: Person, busy: list[Claim]) -> list[str]:
    """In sentences: what has the person firmly at these busy times, though they are busy. One query."""
    spans = merged(claim.span for claim in busy if not claim.firm)
    if not spans:
        return []
    whole, tz = Span(spans[0].start, spans[-1].end), zone_of(person)
    others = in_the_way([person.resource_id], whole).exclude(purpose=Claim.Purpose.BUSY)
    return [
        f"“{claim.reason}” ({claim.get_purpose_display()}), {say_span(claim.span, tz)}."
        for claim in others
        if any(claim.span.overlaps(span) for span in spans)
    ]
