"""Calendar addresses: made, renewed, revoked, found again, and what stands behind each."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from hashlib import sha256
from secrets import compare_digest
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from bookings.calendar.entries import Told, own_entries, room_entries
from bookings.calendar.fragments import Group, groups_of, kept_or_made
from bookings.calendar.repairs import repair_entries
from bookings.calendar.repeats import as_series
from bookings.calendar.write import Entry, Written, feed_bytes, written
from bookings.calendar.write import Feed as Calendar
from bookings.models import Feed, Series, Session, TakenOff
from bookings.models.feeds import new_token
from bookings.models.sessions import SessionQuerySet
from studio.access import Act, may, require
from studio.models import Claim, Person, Room, Site
from studio.spans import Span

DAYS_BACK = 60  # of sessions, and of what was cancelled
DAYS_AHEAD = 400
BACK, AHEAD = timedelta(days=DAYS_BACK), timedelta(days=DAYS_AHEAD)
MOST_BYTES = 950_000  # large clients lose entries of files near 1 MB
SHOWN = [
    "job__client",
    "room__site",
    "kind",
    "beside",
    "crew__person",
]  # apart: many sessions have few of these
LAG = "A subscribed calendar can lag by up to a day: today's word is on My day."
TOKEN = re.compile(r"[A-Za-z0-9_-]+")
FINDING_LETTERS = 4  # of a token: these look the row up, the others are compared in constant time
SUBJECTS = ("room", "job", "site", "unit")
Detail = Feed.Detail


@dataclass(frozen=True, slots=True)
class State:
    """What a feed holds. Two equal etags mean the same bytes."""

    etag: str
    last_modified: datetime


def make(by: Person, subject: Any = None, detail: str = Detail.FULL) -> Feed:
    """The address of one's own calls, or of a room, job, site or unit; the one that is there, if there is one."""
    name = subject_name(subject)
    if name is not None:
        require(by, Act.SEE_HOUSE)
    if name == "job":
        require(by, Act.SEE_CLIENTS)
    of = {each: subject if each == name else None for each in SUBJECTS}
    values = {"made_at": timezone.now()}
    return Feed.objects.get_or_create(owner=by, detail=detail, **of, defaults=values)[0]


def subject_name(subject: Any) -> str | None:
    """Which of SUBJECTS it is; None for a person's own calls."""
    names = {"room": "room", "job": "job", "site": "site", "gearunit": "unit"}
    return names[subject._meta.model_name] if subject is not None else None


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
    """The feed of this address, or None: unknown, renewed, revoked, or its owner has left. One query."""
    if not TOKEN.fullmatch(token):
        return None
    candidates = Feed.objects.filter(token__startswith=token[:FINDING_LETTERS], owner__is_active=True)
    found = None
    for feed in candidates.select_related("owner"):
        if compare_digest(feed.token, token):
            found = feed
    return found


def is_open(feed: Feed) -> bool:
    """Whether its owner may still see what it shows."""
    if subject_name_of(feed) is None:
        return True
    act = Act.SEE_CLIENTS if feed.job_id else Act.SEE_HOUSE
    return may(feed.owner, act) and may(feed.owner, Act.SEE_BOARD)


def subject_name_of(feed: Feed) -> str | None:
    return next((name for name in SUBJECTS if getattr(feed, f"{name}_id")), None)


def known_state(feed: Feed, now: datetime) -> State | None:
    """The state of what was last built, if nothing has changed since; None where it has to be built. One query.

    A unit's feed is always built: its claims change with plans as well, and they are few.
    """
    if feed.unit_id or feed.last_modified is None or feed.built_for != signature(feed, now):
        return None
    return State(feed.etag, feed.last_modified)


def signature(feed: Feed, now: datetime) -> str:
    """What a built feed stands on: the day's window, and how often each site and the names have changed."""
    counts = Site.objects.order_by("pk").values_list("revision", "epoch")
    return (
        f"{window_of(now).start:%Y%m%d} {feed.detail} {sha256(repr(list(counts)).encode()).hexdigest()[:40]}"
    )


def build(feed: Feed, now: datetime) -> tuple[bytes, State]:
    """The feed as iCalendar with its state, which is kept with the feed."""
    built_for = signature(feed, now)  # before it is read: a change meanwhile makes it be built again
    octets = feed_bytes(contents(feed, now))
    etag = f'"{sha256(octets).hexdigest()[:32]}"'
    if etag != feed.etag or feed.last_modified is None:
        feed.etag, feed.last_modified = etag, max(now, feed.last_modified or now).replace(microsecond=0)
    feed.built_for = built_for
    Feed.objects.filter(pk=feed.pk).update(
        built_for=built_for, etag=feed.etag, last_modified=feed.last_modified
    )
    return octets, State(feed.etag, feed.last_modified)


def contents(feed: Feed, now: datetime, most_bytes: int | None = None) -> Calendar:
    """What the feed shows; a constant number of queries, and hardly any where little has changed."""
    what = f"Calls of {feed.owner.name}" if subject_name_of(feed) is None else f"Sessions in {feed}"
    what = f"Gear {feed}" if feed.unit_id else f"Job {feed}" if feed.job_id else what
    today = _day_start(now)
    entries = [*_sessions_written(feed, now), *_repairs(feed, now)]
    return Calendar(
        name=what,
        description=f"{what}, from {DAYS_BACK} days back to {DAYS_AHEAD} days ahead. {LAG}",
        zone=_zone(feed),
        years=((today - BACK).year, (today + AHEAD).year),
        entries=sorted(entries, key=_nearest_to(today)),
        most_bytes=MOST_BYTES if most_bytes is None else most_bytes,
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


def told_by(feed: Feed) -> str:
    """The detail that it says, or less where its owner sees less."""
    if feed.detail == Detail.FULL and not may(feed.owner, Act.SEE_CLIENTS):
        return Detail.NO_CLIENT
    return feed.detail


def sessions_of(feed: Feed, now: datetime) -> SessionQuerySet:
    window = window_of(now)
    kept = Q(cancelled_at__isnull=True) | Q(cancelled_at__gte=window.start)
    sessions = Session.objects.touching(window).filter(kept)
    match subject_name_of(feed):
        case "room" if feed.room:
            rooms = rooms_that_take(feed.room)
            return sessions.filter(Q(room__in=rooms) | Q(beside__in=rooms)).distinct()
        case "job":
            return sessions.filter(job=feed.job_id)
        case "site":
            return sessions.filter(room__site=feed.site_id)
        case "unit":
            return sessions.filter(pk__in=_with_unit(feed))
    off = TakenOff.objects.filter(person=feed.owner_id, at__gte=window.start).values("session")
    return sessions.filter(Q(crew__person=feed.owner_id) | Q(pk__in=off)).distinct()


def _with_unit(feed: Feed) -> list[int]:
    kind = ContentType.objects.get_for_model(Session)
    claims = Claim.objects.filter(resource__gearunit=feed.unit_id, origin_type=kind)
    return list(claims.values_list("origin_id", flat=True))


def _sessions_written(feed: Feed, now: datetime) -> list[Written]:
    detail = told_by(feed)
    rows = sessions_of(feed, now).order_by().values_list("pk", "version", "series_id")
    epoch = max(Site.objects.values_list("epoch", flat=True), default=0)
    name = f"feed-{feed.pk}-{feed.token[:8]}-{detail}-{epoch}"
    return kept_or_made(name, groups_of(rows), lambda groups: _make(feed, detail, groups))


def _make(feed: Feed, detail: str, groups: Sequence[Group]) -> Mapping[str, list[Written]]:
    ids = [pk for group in groups for pk in group.ids]
    found = Session.objects.prefetch_related(*SHOWN).defer("instrument_list", "handover")
    sessions = {session.pk: session for session in _in_batches(found, ids)}
    off = _taken_off(feed, ids)
    series = _series_of(groups)

    def entries_of(session: Session, dated: bool) -> list[Entry]:
        return list(_entries(feed, session, Told(detail, dated), off))

    made: dict[str, list[Written]] = {}
    for group in groups:
        members = [sessions[pk] for pk in group.ids]
        entries = None
        if group.key in series:
            entries = as_series(*series[group.key], members, entries_of)
        if entries is None:
            entries = [entry for session in members for entry in entries_of(session, True)]
        made[group.key] = [written(entry) for entry in entries]
    return made


def _in_batches(found: Any, ids: Sequence[int]) -> Iterator[Session]:
    """SQLite takes no more than some thousand numbers at once."""
    for start in range(0, len(ids), 5000):
        yield from found.filter(pk__in=ids[start : start + 5000])


def _entries(feed: Feed, session: Session, told: Told, off: Mapping[int, TakenOff]) -> Iterator[Entry]:
    if subject_name_of(feed) is not None:
        yield from room_entries(session, told)
        return
    call = next((call for call in session.crew.all() if call.person_id == feed.owner_id), None)
    gone = off.get(session.pk)
    if one := call or gone:
        one.session = session
        yield from own_entries(one, told)


def _taken_off(feed: Feed, ids: Sequence[int]) -> dict[int, TakenOff]:
    if subject_name_of(feed) is not None:
        return {}
    rows = TakenOff.objects.filter(person=feed.owner_id)
    wanted = set(ids)
    return {row.session_id: row for row in rows if row.session_id in wanted}


def _series_of(groups: Sequence[Group]) -> dict[str, tuple[Series, UUID]]:
    """Each series with the uid of its first session ever."""
    ids = [int(group.key[1:]) for group in groups if group.key.startswith("s")]
    if not ids:
        return {}
    firsts: dict[int, UUID] = {}
    rows = Session.objects.filter(series__in=ids, occurrence__isnull=False).order_by("-occurrence", "-pk")
    for series_id, uid in rows.values_list("series_id", "uid"):
        firsts[series_id] = uid
    return {f"s{each.pk}": (each, firsts[each.pk]) for each in Series.objects.filter(pk__in=firsts)}


def _repairs(feed: Feed, now: datetime) -> list[Written]:
    if feed.unit is None:
        return []
    return [written(entry) for entry in repair_entries(feed.unit, window_of(now), told_by(feed), now)]


def _nearest_to(today: datetime) -> Callable[[Written], tuple[bool, timedelta]]:
    """Orders entries by how much they matter: what is to come, soonest first, then the past, latest first."""
    return lambda entry: (entry.end < today, abs(entry.start - today))


def _zone(feed: Feed) -> str:
    of_site = feed.room or feed.unit or feed.owner
    site = feed.site or getattr(of_site, "site", None)
    return site.zone if site else settings.TIME_ZONE


def _day_start(now: datetime) -> datetime:
    return datetime.combine(now.astimezone(UTC).date(), time(), UTC)
