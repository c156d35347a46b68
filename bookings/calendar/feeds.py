"""Calendar addresses: made, renewed, revoked, found again; and whether what stands behind one has changed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from secrets import compare_digest

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from bookings.calendar.contents import EDITION, Look, look
from bookings.calendar.sessions import window_of
from bookings.models import Feed, Job
from bookings.models.feeds import SUBJECTS, new_token
from studio.access import Act, may, require
from studio.models import GearUnit, Person, Room, Site

TOKEN = re.compile(r"[A-Za-z0-9_-]+")
FINDING_LETTERS = 4  # of a token: these look the row up, the others are compared in constant time
Detail = Feed.Detail


@dataclass(frozen=True, slots=True)
class State:
    """What a feed holds. Two equal etags mean the same bytes."""

    etag: str
    last_modified: datetime


def make(by: Person, subject: Room | Job | Site | GearUnit | None = None, detail: str = Detail.FULL) -> Feed:
    """The address of one's own calls, or of a room, job, site or unit; the one that is there, if there is one."""
    feed = Feed(owner=by, detail=detail)
    if subject is not None:
        name = "unit" if isinstance(subject, GearUnit) else str(subject._meta.model_name)
        setattr(feed, name, subject)
        require(by, act_for(feed))
    of = {f"{name}_id": getattr(feed, f"{name}_id") for name in SUBJECTS}
    values = {"made_at": timezone.now()}
    return Feed.objects.get_or_create(owner=by, detail=detail, **of, defaults=values)[0]


def act_for(feed: Feed) -> Act:
    """What its owner must be allowed to see. One's own calls are on every board."""
    match feed.subject_name:
        case None:
            return Act.SEE_BOARD
        case "job":
            return Act.SEE_JOBS
    return Act.SEE_HOUSE


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
    """Whether its owner may still see what it shows. Whoever has no role left still has their own calls."""
    return feed.subject_name is None or may(feed.owner, act_for(feed))


def known_state(feed: Feed, now: datetime) -> State | None:
    """The state of what was last built, if nothing at all has changed since where it looks; one query.

    None where that isn't known: `look` sees whether something of the feed itself has. A unit is taken by plans
    and faults too, which no site counts.
    """
    if feed.unit_id or feed.last_modified is None or feed.built_for != signature(feed, now):
        return None
    return State(feed.etag, feed.last_modified)


def signature(feed: Feed, now: datetime) -> str:
    """The day's window, and how often the sites that it looks at, and names, have changed."""
    counts = list(_sites_of(feed).order_by("pk").values_list("pk", "revision", "epoch"))
    counted = sha256(repr(counts).encode()).hexdigest()[:40]
    return f"{EDITION} {window_of(now).start:%Y%m%d} {feed.detail} {counted}"


def _sites_of(feed: Feed) -> QuerySet[Site]:
    match feed.subject_name:
        case "room":
            return Site.objects.filter(rooms=feed.room_id)
        case "site" if feed.site_id:
            return Site.objects.filter(pk=feed.site_id)
    return Site.objects.all()


def state_of(feed: Feed, found: Look) -> State | None:
    """The state of what was last built, if the feed itself would be the same now; None if it must be built."""
    if feed.last_modified is None or feed.stamp != found.stamp:
        return None
    return State(feed.etag, feed.last_modified)


def build(feed: Feed, now: datetime, most_bytes: int | None = None) -> tuple[bytes, State]:
    """The feed as iCalendar with its state, which is kept with the feed."""
    built_for = signature(feed, now)  # before it is read: a change meanwhile makes it be built again
    return build_from(feed, built_for, look(feed, now, most_bytes))


def build_from(feed: Feed, built_for: str, found: Look) -> tuple[bytes, State]:
    octets = found.octets()
    etag = f'"{sha256(octets).hexdigest()[:32]}"'
    if etag != feed.etag or feed.last_modified is None:
        latest = max(found.now, feed.last_modified or found.now)
        feed.etag, feed.last_modified = etag, latest.replace(microsecond=0)
    keep(feed, built_for, found)
    return octets, State(feed.etag, feed.last_modified)


def keep(feed: Feed, built_for: str, found: Look) -> None:
    """For what, and with which result, it was last looked at."""
    feed.built_for, feed.stamp = built_for, found.stamp
    Feed.objects.filter(pk=feed.pk).update(
        built_for=feed.built_for, stamp=feed.stamp, etag=feed.etag, last_modified=feed.last_modified
    )
