"""Whoever doesn't answer an invitation is asked once more, and again the day before."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, time, timedelta, tzinfo

from django.conf import settings
from django.utils import timezone

from bookings.deadlines import wall
from bookings.models import CallLetter, Crew, Session
from studio.post import message_id

Kind, State = CallLetter.Kind, CallLetter.State
WORDS = "We have no answer from you yet. Will you come?"
APART = timedelta(hours=12)  # between an invitation and a chase, and between two chases


def chase_times(
    asked_at: datetime, call_at: datetime, after: timedelta, opens: time, tz: tzinfo
) -> list[datetime]:
    """When to ask again: so long after the invitation, and when the office opens on the day before the call.

    The first falls away where the second is near, the second where the invitation itself is.
    """
    eve = wall(call_at.astimezone(tz).date() - timedelta(days=1), opens, tz)
    times = [eve] if eve >= asked_at + APART else []
    first = asked_at + after
    if first < call_at and all(abs(first - other) >= APART for other in times):
        times.append(first)
    return sorted(times)


def chase_the_silent() -> int:
    """Write a chase for everybody who should have one by now; gives how many are new. Three queries and rows."""
    now = timezone.now()
    silent = _silent(now)
    asked = _asked(silent)
    known = set(CallLetter.objects.filter(kind=Kind.CHASE, session__in=asked).values_list("key", flat=True))
    rows = []
    for crew in silent:
        letter = asked.get(crew.session_id, {}).get(crew.person_id)
        if letter and (number := _due(crew, letter, now)) and _key(letter, number) not in known:
            rows.append(_chase(crew, letter, number, now))
    CallLetter.objects.bulk_create(rows, ignore_conflicts=True)
    return len(rows)


def _silent(now: datetime) -> list[Crew]:
    crew = Crew.objects.filter(
        answer=Crew.Answer.NONE, call_at__gt=now, assigned=True, person__is_active=True
    )
    confirmed = crew.filter(session__status=Session.Status.CONFIRMED)
    return list(confirmed.select_related("session__room__site", "person"))


def _asked(silent: Iterable[Crew]) -> dict[int, dict[int, CallLetter]]:
    """By session and person, the newest invitation, if it has gone out and nothing newer waits."""
    rows = CallLetter.objects.filter(session__in={crew.session_id for crew in silent})
    rows = rows.filter(kind__in=[Kind.REQUEST, Kind.CANCEL]).exclude(state__in=[State.DROPPED, State.MISSED])
    newest: dict[int, dict[int, CallLetter]] = {}
    for row in rows.order_by("pk"):
        newest.setdefault(row.session_id, {})[row.person_id] = row
    return {
        session_id: {
            person_id: row
            for person_id, row in letters.items()
            if row.kind == Kind.REQUEST and row.state == State.SENT and row.sent_at
        }
        for session_id, letters in newest.items()
    }


def _due(crew: Crew, letter: CallLetter, now: datetime) -> int:
    """Which of the chases is due, counted from 1; 0 for none. One that was missed isn't made up for."""
    site, after = crew.session.room.site, timedelta(hours=settings.CHASE_AFTER_HOURS)
    times = chase_times(letter.sent_at or now, crew.call_at, after, site.opens, site.tz)
    return sum(at <= now for at in times)


def _key(letter: CallLetter, number: int) -> str:
    return f"{letter.pk}.chase.{number}"


def _chase(crew: Crew, letter: CallLetter, number: int, now: datetime) -> CallLetter:
    key = _key(letter, number)
    return CallLetter(
        key=key,
        session=crew.session,
        person=crew.person,
        kind=Kind.CHASE,
        sequence=letter.sequence,
        to=letter.to,
        due_at=now,
        useless_after=crew.call_at,
        calendar=letter.calendar,
        words=WORDS,
        message_id=message_id("call", key),
    )
