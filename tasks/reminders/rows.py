"""Reminders as rows: made, altered and dropped in the transaction of whoever changes the session."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Q, QuerySet, Sum
from django.utils import timezone

from bookings.models import Session
from studio.models import Role
from studio.post import message_id
from tasks.models import Reminder, Task
from tasks.reminders.rules import Call, Due, Hours, moved, reminders_of

State = Reminder.State
About = tuple[int, str]  # person and kind

UNTOLD = (State.WAITING, State.DROPPED)
STUCK_AFTER = timedelta(minutes=5)


def remind(session: Session) -> None:
    """Make the session's reminders right: call it whenever times, room, crew, status or checklist changed.

    May be repeated. One that hasn't gone out is altered or dropped. One that has gone out (or is on its way,
    failed or was missed) stays as it is; only if the session then moves to another room, or the due time by
    15 minutes or more from the one it was told for, the person gets another. Small moves so send nothing
    twice, and many small ones add up. Nothing is made for what is over.
    """
    with transaction.atomic():
        history = _history(session.pk)
        session = Session.objects.get(pk=session.pk)
        wanted = {} if session.cancelled else _wanted(session)
        for about in sorted(history.keys() | wanted.keys()):
            _settle(session, history.get(about, []), wanted.get(about))


def overdue() -> QuerySet[Reminder]:
    """What somebody should look at: failed, or due for five minutes and still not gone out."""
    late = Q(state__in=[State.WAITING, State.SENDING], due_at__lte=timezone.now() - STUCK_AFTER)
    found = Reminder.objects.filter(Q(state=State.FAILED) | late)
    return found.select_related("session__room__site", "person").order_by("due_at", "pk")


def try_again(reminder_id: int) -> bool:
    """Put a failed reminder back in line, for instance after its address was mended. Says whether it was."""
    failed = Reminder.objects.filter(pk=reminder_id, state=State.FAILED)
    return bool(failed.update(state=State.WAITING, attempts=0, leased_until=None, error=""))


def _history(session_id: int) -> dict[About, list[Reminder]]:
    """The rows there are, oldest first, locked before anything is read so that nothing read is old."""
    rows = Reminder.objects.filter(session_id=session_id).order_by("pk")
    list(rows.select_for_update().values_list("pk"))
    history: dict[About, list[Reminder]] = defaultdict(list)
    for row in rows:
        history[row.person_id, row.kind].append(row)
    return history


def _wanted(session: Session) -> dict[About, Due]:
    crew = session.crew.filter(role=Role.ASSISTANT, person__is_active=True)
    calls = [Call(each.person_id, each.call_at, each.until) for each in crew]
    checks = session.tasks.filter(stage__in=[Task.Stage.PHANTOM, Task.Stage.LINE_CHECK])
    minutes = checks.aggregate(sum=Sum("minutes"))["sum"] or 0
    hours = Hours(session.downbeat, session.end, session.clear_at)
    found = reminders_of(hours, calls, minutes, settings.MORNING_NOTICE_MINUTES)
    return {(due.person_id, due.kind): due for due in found}


def _settle(session: Session, past: Sequence[Reminder], due: Due | None) -> None:
    """Bring one person's reminders of one kind, oldest first, in line with what is due."""
    told = next((row for row in reversed(past) if row.state not in UNTOLD), None)
    untold = past[-1] if past and past[-1].state in UNTOLD else None
    waiting = untold is not None and untold.state == State.WAITING
    if due and told and told.room_id == session.room_id and not moved(told.due_at, due.due_at):
        due = None
    if due and (waiting or due.useless_after > timezone.now()):
        _set(untold or _new(session, due, number=len(past) + 1), session, due)
    elif untold and waiting:
        untold.state, untold.error = State.DROPPED, "The session or its crew has changed."
        untold.save(update_fields=["state", "error"])


def _set(row: Reminder, session: Session, due: Due) -> None:
    row.state, row.error, row.attempts, row.leased_until = State.WAITING, "", 0, None
    row.due_at, row.useless_after, row.room = due.due_at, due.useless_after, session.room
    row.save()


def _new(session: Session, due: Due, number: int) -> Reminder:
    key = f"{session.uid.hex}.{due.person_id}.{due.kind}.{number}"
    return Reminder(
        session=session,
        person_id=due.person_id,
        kind=due.kind,
        key=key,
        message_id=message_id("reminder", key),
    )
