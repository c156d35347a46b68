"""Claims on view, and what is known of the sessions behind them: a constant number of queries."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime

from django.contrib.contenttypes.models import ContentType

from bookings.board.asked import Asked
from bookings.board.layout import Taken, Window
from bookings.board.words import Answered, Words
from bookings.ladder import ranks
from bookings.models import Crew, Session
from studio.models import Claim
from studio.models.claims import ClaimQuerySet
from studio.spans import Span

Purpose = Claim.Purpose
PATTERNS: dict[str, str] = {
    Purpose.SETUP: "setup",
    Purpose.SESSION: "session",
    Purpose.SPARE: "spare",
    Purpose.STAYS: "stays",
    Purpose.TURNAROUND: "turnaround",
    Purpose.CALL: "session",
    Purpose.GEAR: "session",
    Purpose.UPKEEP: "upkeep",
    Purpose.CLOSURE: "closed",
    Purpose.REPAIR: "repair",
    Purpose.SERVICE: "upkeep",
    Purpose.TRAVEL: "busy",
    Purpose.LENT: "busy",
    Purpose.NOT_HERE: "closed",
    Purpose.LEAVE: "closed",
    Purpose.BUSY: "busy",
}
UNREAD = ("instrument_list", "note", "handover", "terms")  # long, and never on a board


def claims_in(window: Window) -> ClaimQuerySet:
    return Claim.objects.overlapping(Span(window.start, window.end))


def taken_by(
    claims: ClaimQuerySet, parts: Mapping[int, tuple[int, int]] | None = None, counted: bool = False
) -> Iterator[Taken]:
    """The claims as the layout wants them. One query.

    parts: of a resource that lies on another one's row, that row and its number there. counted: of a stock.
    """
    for row in claims.values_list(
        "resource_id",
        "origin_type_id",
        "origin_id",
        "starts",
        "ends",
        "purpose",
        "firm",
        "reason",
        "quantity",
    ):
        resource_id, kind, pk, starts, ends, purpose, firm, reason, quantity = row
        pattern = PATTERNS.get(purpose, "closed") if firm else "hold"
        usual = (resource_id, quantity if counted else 0)
        place, part = parts.get(resource_id, usual) if parts else usual
        yield Taken(place, (kind, pk), Span(starts, ends), pattern, reason, purpose, part)


def words_for(asked: Asked, claims: ClaimQuerySet, now: datetime, of_holds: bool = True) -> Words:
    """The words for the sessions that made these claims: at most five queries."""
    kind = ContentType.objects.get_for_model(Session).pk
    ids = claims.filter(origin_type_id=kind).order_by().values("origin_id")
    found = Session.objects.filter(pk__in=ids).select_related("room", "kind").defer(*UNREAD)
    sessions = {session.pk: session for session in found}
    holds = [session for session in sessions.values() if session.is_hold] if of_holds else []
    crew: dict[int, list[Answered]] = {}
    for pk, resource_id, answer, assigned in Crew.objects.filter(session__in=ids).values_list(
        "session_id", "person__resource_id", "answer", "assigned"
    ):
        crew.setdefault(pk, []).append(Answered(resource_id, answer, assigned))
    day = asked.first if asked.view == "day" else None
    return Words(asked.site.tz, now, day, asked.near, kind, sessions, ranks(holds, now), crew)
