"""The ladder of holds as the database has it: who shares a room and time with whom, and who comes first.

Whoever alters it holds the row of the site first (`lock_ladder`), then sessions, then resources, and lets the
layers to the right know last: so nobody waits for each other in a ring.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.contrib.contenttypes.models import ContentType
from django.db.models import F

from bookings.drafts import ROOM_TIME, Draft
from bookings.models import Session
from bookings.ranking import Rung, above, rank
from studio.models import Claim, Site
from studio.models.claims import ClaimQuerySet
from studio.spans import Span, gaps

Piece = tuple[int, Span]  # a room's resource and a time in it


class PastHolds(Exception):
    """Somebody would be confirmed past holds that stand above; `holds` are these, in order of asking."""

    def __init__(self, holds: Sequence[Session]) -> None:
        super().__init__(f"{len(holds)} holds stand above")
        self.holds = list(holds)


def lock_ladder(*site_ids: int) -> None:
    """Until the end of the transaction nobody else books, holds, moves or cancels at these sites.

    Each gets its next revision: whatever is changed under the lock is seen by the calendars.
    """
    for pk in sorted(set(site_ids)):
        Site.objects.filter(pk=pk).update(revision=F("revision") + 1)


def wanted_pieces(draft: Draft) -> list[Piece]:
    """Its rooms and their parts for the whole span."""
    return [(each.resource_id, draft.whole) for each in draft.rooms]


def new_pieces(session: Session, draft: Draft) -> list[Piece]:
    """What the session would take of rooms and time that it doesn't have yet."""
    taken: dict[int, list[Span]] = {}
    for resource_id, span in pieces_of(session):
        taken.setdefault(resource_id, []).append(span)
    return [
        (resource_id, gap)
        for resource_id, span in wanted_pieces(draft)
        for gap in gaps(taken.get(resource_id, []), span)
    ]


def pieces_of(session: Session) -> list[Piece]:
    claims = Claim.objects.of(session).filter(purpose__in=ROOM_TIME)
    return [(claim.resource_id, claim.span) for claim in claims]


def holds_on(pieces: Sequence[Piece], but_not: Session | None = None) -> list[Session]:
    """Holds that share an instant of a room with these pieces, in order of asking; fallen ones as well."""
    ids = {claim.origin_id for claim in _room_claims(pieces) if _shared(claim, pieces)}
    found = Session.objects.filter(pk__in=ids, status=Session.Status.HELD).with_all()
    if but_not is not None:
        found = found.exclude(pk=but_not.pk)
    return list(found.order_by("held_at", "pk"))


def standing_on(pieces: Sequence[Piece], now: datetime, but_not: Session | None = None) -> list[Session]:
    """Those of them that stand at this moment."""
    return [hold for hold in holds_on(pieces, but_not) if stands(hold, now)]


def stands(hold: Session, now: datetime) -> bool:
    until = stands_until(hold)
    return hold.status == Session.Status.HELD and until is not None and until > now


def stands_until(hold: Session) -> datetime | None:
    """When it falls if nobody does anything; None for what is no hold."""
    times = [time for time in (hold.answer_by, hold.lapses_at) if time]
    return min(times) if times and hold.status == Session.Status.HELD else None


def holds_above(hold: Session, now: datetime) -> list[Session]:
    """The standing holds that come before this one, first come first."""
    rungs = _rungs([hold], now)
    ids = above(rungs.pop(hold.pk, []), [rung for each in rungs.values() for rung in each])
    found = Session.objects.with_all().in_bulk(ids)
    return [found[pk] for pk in ids]


def ranks(holds: Iterable[Session], now: datetime) -> dict[int, int]:
    """The place of each hold that stands, by session id. A constant number of queries."""
    asked_about = [hold for hold in holds if stands(hold, now)]
    rungs = _rungs(asked_about, now)
    everybody = [rung for each in rungs.values() for rung in each]
    return {hold.pk: rank(rungs.get(hold.pk, []), everybody) for hold in asked_about}


def _rungs(holds: Sequence[Session], now: datetime) -> dict[int, list[Rung]]:
    """These holds and those that stand near them, each with its time in each of its rooms."""
    if not holds:
        return {}
    hull = Span(min(hold.setup_at for hold in holds), max(hold.clear_at for hold in holds))
    own = _tentative().filter(origin_id__in=[hold.pk for hold in holds])
    rooms = set(own.values_list("resource_id", flat=True))
    near = list(_tentative().overlapping(hull).filter(resource_id__in=rooms))
    ids = {claim.origin_id for claim in near}
    standing = dict(Session.objects.holds(now).filter(pk__in=ids).values_list("pk", "held_at"))
    standing.update({hold.pk: hold.held_at for hold in holds})
    rungs: dict[int, list[Rung]] = {}
    for claim in near:
        if held_at := standing.get(claim.origin_id):
            rung = Rung(claim.origin_id, (held_at, claim.origin_id), claim.resource_id, claim.span)
            rungs.setdefault(claim.origin_id, []).append(rung)
    return rungs


def _tentative() -> ClaimQuerySet:
    """What holds claim of rooms."""
    kind = ContentType.objects.get_for_model(Session)
    return Claim.objects.filter(firm=False, purpose__in=ROOM_TIME, origin_type=kind)


def _room_claims(pieces: Sequence[Piece]) -> Iterable[Claim]:
    if not pieces:
        return []
    hull = Span(min(span.start for _, span in pieces), max(span.end for _, span in pieces if span.end))
    return _tentative().overlapping(hull).filter(resource_id__in={resource for resource, _ in pieces})


def _shared(claim: Claim, pieces: Sequence[Piece]) -> bool:
    return any(claim.resource_id == resource and claim.span.overlaps(span) for resource, span in pieces)
