"""A session that runs on: until when at most, what it costs, whom it pushes, whose rest it breaks; and the press."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from decimal import Decimal

from django.contrib.contenttypes.models import ContentType
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from bookings.booking import apply_change
from bookings.charges import charge
from bookings.drafts import Draft, as_draft, in_minutes
from bookings.history import note
from bookings.invitations.rows import tell_of_push
from bookings.ladder import new_pieces, standing_on
from bookings.models import Session
from bookings.people import shortened_by
from bookings.saying import hold_sentences
from studio.access import Act, require
from studio.claims import in_the_way
from studio.clock import say, say_length
from studio.models import Claim, Person
from studio.rest import Short, in_short, told_once
from studio.service.giving_way import is_slot, make_way, slots_within
from studio.spans import Span

A_STEP = timedelta(minutes=30)
MOST_STEPS = 12
SOON = timedelta(minutes=15)


class CantRunOn(Exception):
    """The message is a sentence that says why and what to do."""


@dataclass(frozen=True, slots=True)
class Option:
    """Going on until `until`. cost is for the time past the booked end, None without a rate."""

    until: datetime
    words: str
    cost: Decimal | None
    currency: str
    turnaround_left: timedelta
    sentences: Sequence[str]
    rests: Sequence[Short]
    holds: Sequence[str]


@dataclass(frozen=True, slots=True)
class RunningOn:
    """most: the latest end that is free, None where nothing follows within view."""

    options: Sequence[Option]
    most: datetime | None
    stopped_by: Sequence[str]

    @property
    def rules(self) -> list[str]:
        """Of rest, that some way on falls under."""
        return list(dict.fromkeys(told_once(short.rule) for way in self.options for short in way.rests))


def may_run_on(session: Session, now: datetime) -> bool:
    """While it runs, and a little before: when the question comes up."""
    firm = session.status == Session.Status.CONFIRMED
    return firm and session.is_work and session.downbeat - SOON <= now < session.clear_at


def running_on(session: Session, now: datetime) -> RunningOn:
    """The ways on, in steps of half an hour. Takes a session made `with_all()`."""
    following, slots = _following(session, now), _slots(session, now)
    most = min((claim.starts for claim in following), default=None)
    draft = as_draft(session)
    first = max(session.last, _next_half_hour(now))
    ends = [first + A_STEP * number for number in range(MOST_STEPS + 1)]
    ends = [end for end in ends if end > session.last and (most is None or end <= most)]
    return RunningOn(
        options=[_option(session, draft, end, following, slots, now) for end in ends[:MOST_STEPS]],
        most=most,
        stopped_by=list(_stopping(following, most, session)),
    )


def run_on(by: Person, session_id: int, version: int, until: datetime, overrule: str = "") -> Session:
    """Book the longer time; the turnaround gives way as far as it must, and whoever comes next is told.

    Raises CantRunOn, and Stale, Conflict and PastHolds as bookings.booking.change does.
    """
    require(by, Act.RUN_ON)
    with transaction.atomic():
        session = Session.objects.with_all().get(pk=session_id)
        if not may_run_on(session, timezone.now()):
            raise CantRunOn("It isn't running (any more). Enter the times in and out instead.")
        if until <= session.last:
            raise CantRunOn(f"It is booked until {say(session.last, session.room.site.tz)} already.")
        if until > farthest(session, timezone.now()) or until.second or until.microsecond:
            raise CantRunOn("That isn't one of the times to choose from. Change the session for more.")
        following = _following(session, timezone.now())
        draft = stretched(as_draft(session), until, following)
        make_way(
            _own(session), draft.whole, f"“{session.title}” runs on until {say(until, session.room.site.tz)}."
        )
        session = apply_change(by, session_id, version, draft, overrule, told_as="ran on")
        for other in _sessions_of(claim for claim in following if claim.starts <= draft.clear_at + A_STEP):
            words = _told(session, other)
            note(other, by, "before it", words)
            tell_of_push(other, words)
    return session


def farthest(session: Session, now: datetime) -> datetime:
    """The last of the ways on, were everything free."""
    return max(session.last, _next_half_hour(now)) + A_STEP * MOST_STEPS


def stretched(draft: Draft, until: datetime, following: Sequence[Claim]) -> Draft:
    """With the later end, no spare time after it, and as much turnaround as is left."""
    usual = in_minutes(draft.clear_at - draft.last)
    free = min((claim.starts for claim in following), default=None)
    left = usual if free is None else min(usual, max(0, in_minutes(free - until)))
    return replace(draft, end=until, spare_minutes=0, turnaround_minutes=left)


def _option(
    session: Session,
    draft: Draft,
    until: datetime,
    following: Sequence[Claim],
    slots: Sequence[Claim],
    now: datetime,
) -> Option:
    longer = stretched(draft, until, following)
    rate, tz = session.job.hourly_rate, session.room.site.tz
    there = until.astimezone(tz)
    left, usual = longer.clear_at - until, draft.clear_at - draft.last
    shorts = _rests(session, longer)
    sentences = [in_short(names, short) for short, names in _alike(shorts)]
    if left < usual:
        names = ", ".join(f"“{other.title}”" for other in _sessions_of(following))
        words = f"Leaves {say_length(left)} of {say_length(usual)} of turnaround"
        sentences.insert(0, f"{words} before {names}." if names else f"{words}.")
    sentences += [_gives_way(slot, tz) for slot in slots if slot.span.overlaps(longer.whole)]
    return Option(
        until=until,
        words=f"{there:%H:%M}" if there.date() == session.end.astimezone(tz).date() else f"{there:%a %H:%M}",
        cost=None if rate is None else charge(rate, until - session.end),
        currency=session.job.currency,
        turnaround_left=left,
        sentences=sentences,
        rests=[short for _, short in shorts],
        holds=hold_sentences(standing_on(new_pieces(session, longer), now, session), tz, longer.whole),
    )


def _rests(session: Session, longer: Draft) -> list[tuple[str, Short]]:
    """Of everybody who stays longer, by name."""
    stay = {called.person_id: longer.calls_of(called)[-1] for called in longer.crew if called.assigned}
    return [
        (call.person.name, short)
        for call in session.crew.all()
        if call.person_id in stay
        for short in shortened_by(call.person, stay[call.person_id], session.room.site, session.title)
    ]


def _alike(shorts: Sequence[tuple[str, Short]]) -> list[tuple[Short, list[str]]]:
    """Those with the same rest before the same call in one line."""
    found: dict[object, tuple[Short, list[str]]] = {}
    for name, short in shorts:
        key = (short.rule, short.rest, short.next and short.next.title)
        found.setdefault(key, (short, []))[1].append(name)
    return list(found.values())


def _following(session: Session, now: datetime) -> list[Claim]:
    """The next firm claim of others on each of its rooms, people and units, first come first. Two queries."""
    found: dict[int, Claim] = {}
    for claim in in_the_way(_own(session), _view(session), session).exclude(is_slot(now)):
        if claim.purpose != Claim.Purpose.BUSY:
            found.setdefault(claim.resource_id, claim)
    return sorted(found.values(), key=lambda claim: claim.starts)


def _slots(session: Session, now: datetime) -> list[Claim]:
    """Time that was kept for service, one a thing that is served."""
    slots = slots_within(_own(session), _view(session), now)
    return list({(slot.origin_id, slot.starts, slot.reason): slot for slot in slots}.values())


def _gives_way(slot: Claim, tz: tzinfo) -> str:
    return f"Takes the time kept for “{slot.reason}” ({slot.resource}, {say(slot.starts, tz)}); the bench is told."


def _own(session: Session) -> set[int]:
    """Exclusive resources that it still has at its end."""
    own = session.claims.filter(Q(ends__gte=session.end) | Q(purpose=Claim.Purpose.GEAR))
    return set(own.filter(exclusive=True).values_list("resource_id", flat=True))


def _view(session: Session) -> Span:
    return Span(session.end, session.last + A_STEP * (MOST_STEPS + 4))


def _stopping(following: Iterable[Claim], most: datetime | None, session: Session) -> Iterator[str]:
    tz = session.room.site.tz
    for claim in following:
        if claim.starts == most:
            why = f"“{claim.reason}”" if claim.reason else claim.get_purpose_display()
            yield f"{claim.resource} is taken from {say(claim.starts, tz)}: {why}."


def _sessions_of(claims: Iterable[Claim]) -> list[Session]:
    kind = ContentType.objects.get_for_model(Session).pk
    ids = dict.fromkeys(claim.origin_id for claim in claims if claim.origin_type_id == kind)
    found = Session.objects.with_all().in_bulk(ids)
    return [found[pk] for pk in ids if pk in found]


def _told(session: Session, other: Session) -> str:
    end, tz = say(session.end, other.room.site.tz), other.room.site.tz
    return f"“{session.title}” before it runs on until {end}; it is clear at {say(session.clear_at, tz)}."


def _next_half_hour(now: datetime) -> datetime:
    start = now.replace(minute=0, second=0, microsecond=0)
    while start <= now:
        start += A_STEP
    return start
