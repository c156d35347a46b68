"""Calendar addresses: made, renewed, revoked, found again, and what stands behind each."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from hashlib import sha256
from secrets import compare_digest

from django.conf import settings
from django.db import transaction
from django.db.models import Max, Q, Sum
from django.utils import timezone

from bookings.calendar.entries import own_entries, room_entry
from bookings.calendar.write import Entry, feed_bytes
from bookings.calendar.write import Feed as Written
from bookings.models import Feed, Session, SessionEntry
from bookings.models.feeds import new_token
from bookings.models.sessions import SessionQuerySet
from studio.access import Act, may, require
from studio.models import Person, Room
from studio.spans import Span

DAYS_BACK = 60  # of sessions, and of what was cancelled
DAYS_AHEAD = 400
BACK, AHEAD = timedelta(days=DAYS_BACK), timedelta(days=DAYS_AHEAD)
MOST_BYTES = 950_000  # large clients lose entries of files near 1 MB
SHOWN = ["job__client", "room__site", "crew__person"]  # apart: a thousand sessions have few jobs and rooms
LAG = "A subscribed calendar can lag by up to a day: today's word is on My day."
TOKEN = re.compile(r"[A-Za-z0-9_-]+")
FINDING_LETTERS = 4  # of a token: these look the row up, the others are compared in constant time


@dataclass(frozen=True, slots=True)
class State:
    """What a feed holds, told without building it: two equal etags mean the same bytes."""

    etag: str
    last_modified: datetime


def make(by: Person, room: Room | None = None) -> Feed:
    """The address of one's own calls, or of a room; the one that is there already, if there is one."""
    if room is not None:
        require(by, Act.SEE_HOUSE)
    return Feed.objects.get_or_create(owner=by, room=room, defaults={"made_at": timezone.now()})[0]


def renew(by: Person, feed_id: int) -> Feed:
    """Another address for the same calendar; the old one is dead at once. Raises Feed.DoesNotExist."""
    with transaction.atomic():
        feed = Feed.objects.select_for_update().get(pk=feed_id, owner=by)
        feed.token, feed.made_at = new_token(), timezone.now()
        feed.save(update_fields=["token", "made_at"])
    return feed


def revoke(by: Person, feed_id: int) -> None:
    """The address is dead at once. Raises Feed.DoesNotExist."""
    Feed.objects.get(pk=feed_id, owner=by).delete()


def live(token: str) -> Feed | None:
    """The feed of this address, or None: unknown, renewed, revoked, or its owner has left."""
    if not TOKEN.fullmatch(token):
        return None
    candidates = Feed.objects.filter(token__startswith=token[:FINDING_LETTERS], owner__is_active=True)
    found = None
    for feed in candidates.select_related("owner__site", "room__site").prefetch_related("owner__roles_held"):
        if compare_digest(feed.token, token):
            found = feed
    if found and found.room and not may(found.owner, Act.SEE_HOUSE):
        return None
    return found


def state(feed: Feed, now: datetime) -> State:
    """A fixed number of queries, whatever the feed holds.

    Sessions in a day's window are told apart by latest change and sums: one that goes lowers the sums, one
    that comes or changes is the latest. Names are read: renaming a client changes no session.
    """
    window, sessions = window_of(now), _sessions(feed, now)
    sums = sessions.aggregate(
        latest=Max("changed_at"),
        versions=Sum("version"),
        ids=Sum("pk"),
    )
    names = sessions.order_by().values_list(
        "room__name", "room__site__name", "room__site__zone", "job__title", "job__client__name"
    )
    people = Person.objects.filter(calls__session__in=sessions.order_by().values("pk")).order_by("pk")
    parts = (
        window.start,
        sorted(sums.items()),
        sorted(names.distinct()),
        list(people.distinct().values_list("pk", "name")),
        (feed.pk, str(feed), _zone(feed), may(feed.owner, Act.SEE_CLIENTS)),
    )
    changed_in_house = SessionEntry.objects.order_by("-pk").values_list("at", flat=True).first()
    instants = [_day_start(now), feed.made_at, sums["latest"], changed_in_house]
    latest = max(instant for instant in instants if instant)
    return State(f'"{sha256(repr(parts).encode()).hexdigest()[:32]}"', min(latest, now))


def built(feed: Feed, now: datetime) -> bytes:
    """The feed as iCalendar, in a constant number of queries."""
    return feed_bytes(contents(feed, now))


def contents(feed: Feed, now: datetime) -> Written:
    what = f"Sessions in {feed.room.name}" if feed.room else f"Calls of {feed.owner.name}"
    today = _day_start(now)
    return Written(
        name=what,
        description=f"{what}, from {DAYS_BACK} days back to {DAYS_AHEAD} days ahead. {LAG}",
        zone=_zone(feed),
        years=((today - BACK).year, (today + AHEAD).year),
        entries=sorted(_entries(feed, now), key=_nearest_to(today)),
        most_bytes=MOST_BYTES,
    )


def window_of(now: datetime) -> Span:
    """The span that a feed shows: it moves on at midnight UTC, so that a feed stays the same for a day."""
    today = _day_start(now)
    return Span(today - BACK, today + AHEAD)


def rooms_that_take(room: Room) -> set[int]:
    """This room and every composite that it is a part of: a session in one of them is a session here."""
    found = newest = {room.pk}
    while newest:
        wholes = Room.objects.filter(parts__in=newest).values_list("pk", flat=True)
        newest = set(wholes) - found
        found = found | newest
    return found


def _sessions(feed: Feed, now: datetime) -> SessionQuerySet:
    window = window_of(now)
    kept = Q(cancelled_at__isnull=True) | Q(cancelled_at__gte=window.start)
    sessions = Session.objects.touching(window).filter(kept)
    if feed.room:
        return sessions.filter(room__in=rooms_that_take(feed.room))
    return sessions.filter(crew__person=feed.owner)


def _entries(feed: Feed, now: datetime) -> Iterator[Entry]:
    sessions, with_client = _sessions(feed, now), may(feed.owner, Act.SEE_CLIENTS)
    for session in sessions.prefetch_related(*SHOWN).defer("instrument_list", "handover"):
        if feed.room:
            yield room_entry(session, with_client)
        else:
            call = next(call for call in session.crew.all() if call.person_id == feed.owner_id)
            call.session = session
            yield from own_entries(call, with_client)


def _nearest_to(today: datetime) -> Callable[[Entry], tuple[bool, timedelta]]:
    """Orders entries by how much they matter: what is to come, soonest first, then the past, latest first."""
    return lambda entry: (entry.end < today, abs(entry.start - today))


def _zone(feed: Feed) -> str:
    site = feed.room.site if feed.room else feed.owner.site
    return site.zone if site else settings.TIME_ZONE


def _day_start(now: datetime) -> datetime:
    return datetime.combine(now.astimezone(UTC).date(), time(), UTC)
