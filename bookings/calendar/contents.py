"""What stands in a feed: looked up cheaply, and only then made into text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from hashlib import sha256

from django.conf import settings

from bookings.calendar.entries import Call, Shown, own_entries, room_entries, unit_entries
from bookings.calendar.fragments import Group, groups_of, kept_or_made
from bookings.calendar.repairs import repair_entries
from bookings.calendar.repeats import as_series
from bookings.calendar.sessions import (
    DAYS_AHEAD,
    DAYS_BACK,
    calls_off,
    day_start,
    known_series,
    sessions_of,
    shown,
    window_of,
)
from bookings.calendar.write import Entry, Written, feed_bytes, written
from bookings.calendar.write import Feed as Calendar
from bookings.models import Feed
from studio.access import Act, may
from studio.models import Site

EDITION = 2  # rises when entries are written in another way than those kept
LAG = "A subscribed calendar can lag by up to a day: today's word is on My day."
Detail = Feed.Detail


@dataclass(frozen=True)
class Look:
    """What a feed holds at an instant, before any of it is written: two equal stamps mean the same bytes."""

    feed: Feed
    now: datetime
    detail: str
    epoch: int
    groups: Sequence[Group]
    repairs: Sequence[Entry]
    most_bytes: int

    @cached_property
    def stamp(self) -> str:
        versions = [(group.key, group.version) for group in self.groups]
        parts = (EDITION, self.detail, self.epoch, self.most_bytes, self.name, self.zone)
        return sha256(repr((parts, day_start(self.now), versions, self.repairs)).encode()).hexdigest()

    @property
    def name(self) -> str:
        """The job's title is known only where the client is."""
        match self.feed.subject_name:
            case None:
                return f"Calls of {self.feed.owner.name}"
            case "unit":
                return f"Gear {self.feed.unit}"
            case "job":
                return f"Sessions of {self.feed.job if self.detail == Detail.FULL else 'one job'}"
        return f"Sessions in {self.feed.subject}"

    @property
    def zone(self) -> str:
        feed = self.feed
        of_site = feed.room or feed.unit or feed.owner
        site = feed.site or of_site.site
        return site.zone if site else settings.TIME_ZONE

    def octets(self) -> bytes:
        """The feed as iCalendar. A constant number of queries, and hardly any where little has changed."""
        name = f"feed-{self.feed.pk}-{self.feed.token[:8]}-{self.detail}-{self.epoch}-{EDITION}"
        texts = kept_or_made(name, self.groups, lambda groups: made(self.feed, self.detail, groups))
        texts += [written(entry) for entry in self.repairs]
        today, window = day_start(self.now), window_of(self.now)
        calendar = Calendar(
            name=self.name,
            description=f"{self.name}, from {DAYS_BACK} days back to {DAYS_AHEAD} days ahead. {LAG}",
            zone=self.zone,
            years=(window.start.year, (window.end or today).year),
            entries=_nearest_first(texts, today),
            most_bytes=self.most_bytes,
        )
        return feed_bytes(calendar)


def look(feed: Feed, now: datetime, most_bytes: int | None = None) -> Look:
    """most_bytes of None: the house's own bound."""
    detail, window = told_by(feed), window_of(now)
    rows = list(sessions_of(feed, window).order_by("pk").values_list("pk", "version", "series_id"))
    known = known_series(series_id for _, _, series_id in rows if series_id)
    bound = settings.CALENDAR_MOST_BYTES if most_bytes is None else most_bytes
    out = list(repair_entries(feed.unit, window, detail, now)) if feed.unit else []
    return Look(feed, now, detail, epoch(), groups_of(rows, known), out, bound)


def epoch() -> int:
    """How often names have changed."""
    return max(Site.objects.values_list("epoch", flat=True), default=0)


def told_by(feed: Feed) -> str:
    """The detail that it says, or less where its owner sees less."""
    if feed.detail == Detail.FULL and not may(feed.owner, Act.SEE_CLIENTS):
        return Detail.NO_CLIENT
    return feed.detail


def made(feed: Feed, detail: str, groups: Sequence[Group]) -> dict[str, list[Written]]:
    """The entries of each group, written."""
    ids = [pk for group in groups for pk in group.ids]
    off: Mapping[int, Call] = {} if feed.subject_name else calls_off(feed.owner)
    told = {each.session.pk: (each, entries_of(feed, each, detail, off)) for each in shown(ids)}
    found: dict[str, list[Written]] = {}
    for group in groups:
        members = [told[pk] for pk in group.ids if pk in told]
        entries = [entry for _, entries in members for entry in entries]
        if group.known:
            entries = as_series(group.known, [(each.session, entries) for each, entries in members])
        found[group.key] = [written(entry) for entry in entries]
    return found


def entries_of(feed: Feed, each: Shown, detail: str, off: Mapping[int, Call]) -> list[Entry]:
    match feed.subject_name:
        case None:
            calls = [call for call in each.crew if call.person_id == feed.owner_id]
            call = calls[0] if calls else off.get(each.session.pk)
            return own_entries(each, call, detail) if call else []
        case "unit":
            return unit_entries(each, detail)
    return room_entries(each, detail)


def _nearest_first(texts: Sequence[Written], today: datetime) -> list[Written]:
    """By how much they matter: what is to come, soonest first, then the past, latest first."""

    def key(entry: Written) -> tuple[bool, timedelta]:
        if entry.end < today:
            return True, today - entry.start
        return False, max(entry.start - today, timedelta())

    return sorted(texts, key=key)
