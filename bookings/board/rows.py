"""What a board shows, from the claims on a site's rooms: a constant number of queries, whatever is on it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

from django.contrib.contenttypes.models import ContentType

from bookings.board.layout import Taken, Tick, Window, hour_ticks, hours_shown, lay_out
from bookings.board.words import Shown, Words
from bookings.ladder import ranks
from bookings.models import Session
from studio.clock import day_span
from studio.models import Claim, Room, Site
from studio.spans import Span

PATTERNS = {"setup": "setup", "session": "session", "turnaround": "turnaround"}
DAYS = {"day": 1, "week": 7}


@dataclass(frozen=True, slots=True)
class Row:
    room: Room
    remark: str
    blocks: Sequence[Shown]
    taken_parts: Sequence[str] = ()

    @property
    def when_empty(self) -> str:
        """A room made of others is free only while they are."""
        return f"free but for {', '.join(self.taken_parts)}" if self.taken_parts else "free"

    @property
    def lanes(self) -> int:
        return 1 + max((shown.block.lane for shown in self.blocks), default=0)


@dataclass(frozen=True, slots=True)
class Board:
    """now_at in percent of the window, None when now isn't on view."""

    window: Window
    rows: Sequence[Row]
    ticks: Sequence[Tick]
    now_at: float | None


def first_day(day: date, view: str) -> date:
    """A week begins on Monday (ISO 8601)."""
    return day - timedelta(days=day.weekday()) if view == "week" else day


def board_of(site: Site, day: date, view: str, now: datetime) -> Board:
    """The rooms of a site for a day, or for the week that holds it."""
    tz, first = site.tz, first_day(day, view)
    whole = days_on_view(first, DAYS[view], tz)
    taken = list(taken_in(site, whole))
    if view == "day":
        on_view = [one.span for one in taken] + [Span(now, now + timedelta(minutes=1))]
        window = hours_shown(whole, on_view, tz)
        ticks = hour_ticks(window, tz)
    else:
        window, ticks = whole, day_ticks(whole, first, DAYS[view], tz)
    rows = rows_of(site, taken, window, words_for(site, whole, now, first if view == "day" else None))
    return Board(window, rows, ticks, window.percent(now) if window.start <= now < window.end else None)


def days_on_view(first: date, days: int, tz: tzinfo) -> Window:
    after = day_span(first + timedelta(days=days), tz)
    return Window(day_span(first, tz).start, after.start)


def day_ticks(window: Window, first: date, days: int, tz: tzinfo) -> list[Tick]:
    dates = [first + timedelta(days=number) for number in range(days)]
    return [Tick(f"{day:%a} {day.day}", window.percent(day_span(day, tz).start)) for day in dates]


def taken_in(site: Site, window: Window) -> Iterator[Taken]:
    """The claims on the site's rooms. One query."""
    claims = Claim.objects.overlapping(Span(window.start, window.end)).filter(resource__room__site=site)
    for row in claims.values_list(
        "resource_id", "origin_type_id", "origin_id", "starts", "ends", "purpose", "firm", "reason"
    ):
        resource_id, kind, pk, starts, ends, purpose, firm, reason = row
        pattern = PATTERNS.get(purpose, "closed") if firm else "hold"
        yield Taken(resource_id, (kind, pk), Span(starts, ends), pattern, reason, purpose)


def words_for(site: Site, window: Window, now: datetime, day: date | None) -> Words:
    """The words for the sessions on view, in a constant number of queries."""
    touching = Session.objects.standing().filter(room__site=site).touching(Span(window.start, window.end))
    sessions = {session.pk: session for session in touching.select_related("room")}
    places = ranks([session for session in sessions.values() if session.is_hold], now)
    return Words(site.tz, now, day, sessions, ContentType.objects.get_for_model(Session).pk, places)


def rows_of(site: Site, taken: list[Taken], window: Window, words: Words) -> list[Row]:
    rooms = Room.objects.filter(site=site).prefetch_related("parts", "wholes")
    blocks = lay_out(taken, window)
    return [
        Row(
            room,
            remark(room),
            [words.shown(block, room) for block in blocks.get(room.resource_id, [])],
            [part.name for part in room.parts.all() if blocks.get(part.resource_id)],
        )
        for room in rooms
    ]


def remark(room: Room) -> str:
    """What it is made of or part of, else the house's own remark."""
    parts = [part.name for part in room.parts.all()]
    wholes = [whole.name for whole in room.wholes.all()]
    said = [f"takes {', '.join(parts)}"] * bool(parts) + [f"part of {', '.join(wholes)}"] * bool(wholes)
    return "; ".join(said) or room.remark
