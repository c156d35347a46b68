"""The sessions that stand behind a feed, with everything that its entries tell, in few queries."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, time, timedelta
from uuid import UUID

from django.contrib.contenttypes.models import ContentType
from django.db.models import Q

from bookings.calendar.entries import Call, Shown
from bookings.calendar.repeats import Known
from bookings.models import Crew, Feed, Series, Session, TakenOff
from bookings.models.sessions import SessionQuerySet
from studio.models import Claim, Person, Room
from studio.spans import Span

DAYS_BACK = 60  # of sessions, and of what was cancelled
DAYS_AHEAD = 400
BACK, AHEAD = timedelta(days=DAYS_BACK), timedelta(days=DAYS_AHEAD)
AT_ONCE = 5000  # SQLite takes no more than some thousand numbers in a query
TOLD = [
    *("job", "room", "kind", "series", "title", "note", "status", "setup_at", "load_in", "downbeat", "end"),
    *("spare_until", "clear_at", "day_from", "day_to", "occurrence", "uid", "version", "sequence"),
    *("made_at", "changed_at", "cancelled_because"),
]
CALL = ("session_id", "person_id", "role", "call_at", "until")


def window_of(now: datetime) -> Span:
    """The span that a feed shows: it moves on at midnight UTC, so that a feed stays the same for a day."""
    today = day_start(now)
    return Span(today - BACK, today + AHEAD)


def day_start(now: datetime) -> datetime:
    return datetime.combine(now.astimezone(UTC).date(), time(), UTC)


def sessions_of(feed: Feed, window: Span) -> SessionQuerySet:
    """Those in the window; what was cancelled, and whoever was taken off, for as long as the window reaches back."""
    kept = Q(cancelled_at__isnull=True) | Q(cancelled_at__gte=window.start)
    sessions = Session.objects.touching(window).filter(kept)
    match feed.subject_name:
        case "room" if feed.room:
            rooms = rooms_that_take(feed.room)
            return sessions.filter(Q(room__in=rooms) | Q(pk__in=_beside(rooms)))
        case "job":
            return sessions.filter(job=feed.job_id)
        case "site":
            return sessions.filter(room__site=feed.site_id)
        case "unit":
            return sessions.filter(_with_unit(feed, window))
    on = Crew.objects.filter(person=feed.owner_id).values("session")
    off = TakenOff.objects.filter(person=feed.owner_id, at__gte=window.start).values("session")
    return sessions.filter(Q(pk__in=on) | Q(pk__in=off))


def rooms_that_take(room: Room) -> set[int]:
    """This room and every composite that it is a part of: a session in one of them is a session here."""
    found = newest = {room.pk}
    while newest:
        wholes = Room.objects.filter(parts__in=newest).values_list("pk", flat=True)
        newest = set(wholes) - found
        found = found | newest
    return found


def _beside(rooms: Iterable[int]) -> object:
    return Session.beside.through.objects.filter(room__in=rooms).values("session")


def _with_unit(feed: Feed, window: Span) -> Q:
    """Sessions that take the unit or a channel of it. One that is cancelled takes nothing any more: those stay
    that had asked for this very unit."""
    of_unit = Q(resource__gearunit=feed.unit_id) | Q(resource__channel__unit=feed.unit_id)
    kind = ContentType.objects.get_for_model(Session)
    claims = Claim.objects.filter(of_unit, origin_type=kind, until__gt=window.start)
    asked = Session.wanted_units.through.objects.filter(gearunit=feed.unit_id)
    return Q(pk__in=claims.values("origin_id")) | Q(
        pk__in=asked.values("session"), status=Session.Status.CANCELLED
    )


def known_series(ids: Iterable[int]) -> dict[int, Known]:
    """What each series is known by."""
    wanted = set(ids)
    if not wanted:
        return {}
    before = _and_followers(wanted)
    firsts: dict[int, UUID] = {}
    sums: Counter[int] = Counter()
    latest: dict[int, datetime] = {}
    rows = Session.objects.filter(series__in=before).order_by("-occurrence", "-pk")
    for pk, uid, sequence, changed_at in rows.values_list("series", "uid", "sequence", "changed_at"):
        firsts[pk] = uid
        here: int | None = pk
        while here is not None:
            sums[here] += sequence
            latest[here] = max(latest.get(here, changed_at), changed_at)
            here = before[here]
    found = Series.objects.filter(pk__in=wanted & set(firsts))
    return {each.pk: Known(each, firsts[each.pk], sums[each.pk], latest[each.pk]) for each in found}


def _and_followers(wanted: Iterable[int]) -> dict[int, int | None]:
    """These series and all that were split off from them, each with the one it follows if that is among them."""
    found: dict[int, int | None] = dict.fromkeys(wanted)
    newest = set(found)
    while newest:
        rows = dict(Series.objects.filter(follows__in=newest).values_list("pk", "follows"))
        newest = set(rows) - set(found)
        found.update(rows)
    return found


def shown(ids: Sequence[int]) -> Iterator[Shown]:
    """The sessions with all that is told about them, in a constant number of queries for each AT_ONCE."""
    for start in range(0, len(ids), AT_ONCE):
        some = ids[start : start + AT_ONCE]
        crew, beside = _crew(some), _rooms_beside(some)
        sessions = Session.objects.filter(pk__in=some).only(*TOLD).order_by()
        for session in sessions.prefetch_related("job__client", "room__site", "kind"):
            yield Shown(session, crew.get(session.pk, ()), beside.get(session.pk, ()))


def _crew(ids: Sequence[int]) -> dict[int, list[Call]]:
    rows = Crew.objects.filter(session__in=ids).order_by("call_at", "pk")
    found: dict[int, list[Call]] = {}
    for session_id, person_id, role, call_at, until, assigned, name in rows.values_list(
        *CALL, "assigned", "person__name"
    ):
        call = Call(person_id, name, role, call_at, until, assigned)
        found.setdefault(session_id, []).append(call)
    return found


def _rooms_beside(ids: Sequence[int]) -> dict[int, list[Room]]:
    pairs = Session.beside.through.objects.filter(session__in=ids).values_list("session", "room")
    found: dict[int, list[Room]] = {}
    rows = list(pairs)
    rooms = {room.pk: room for room in Room.objects.filter(pk__in={room for _, room in rows})}
    order = {pk: number for number, pk in enumerate(rooms)}
    for session_id, room_id in sorted(rows, key=lambda row: order[row[1]]):
        found.setdefault(session_id, []).append(rooms[room_id])
    return found


def calls_off(person: Person) -> Mapping[int, Call]:
    """What somebody has been taken off, by session."""
    rows = TakenOff.objects.filter(person=person).values_list(*CALL, "at")
    return {
        session_id: Call(person_id, person.name, role, call_at, until, off_at=at)
        for session_id, person_id, role, call_at, until, at in rows
    }
