"""Sending: lease a row, look whether it is still wanted, hand the letter over, mark the row.

A lease and a mark are each one conditional UPDATE, and no transaction is open while the mail server talks.
Losing a reminder is worse than sending it twice: a worker that dies between hand-over and mark leaves its row
leased, and when the lease has run out the same letter goes out again with the same Message-ID. Every other
row goes out once, however many workers and ticks there are.
"""

from __future__ import annotations

import logging
import time
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db.models import F
from django.utils import timezone

from bookings.models import Session
from studio.models import Role
from studio.post import Post, Trouble, Undelivered
from tasks.models import Reminder
from tasks.reminders.letters import letter

State = Reminder.State
log = logging.getLogger(__name__)

ROUND_SECONDS = 60
MOST_TRIES = 12
FIRST_PAUSE = timedelta(seconds=30)
LONGEST_PAUSE = timedelta(minutes=10)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a leased row; with again_at the lease simply lasts until then."""

    state: str
    words: str = ""
    again_at: datetime | None = None


def send_due() -> int:
    """One round: sends what is due for up to a minute. Gives the number of rows that were dealt with.

    Where the mail server is down the round ends, so that the worker isn't kept from other work; the next
    tick goes on with the next row.
    """
    until = time.monotonic() + ROUND_SECONDS
    done = 0
    with Post() as post:
        while not post.down and time.monotonic() < until and send_next(post):
            done += 1
    return done


def send_next(post: Post) -> bool:
    """Deals with the next row that is due. Says whether there was one."""
    reminder = lease_next()
    if reminder is None:
        return False
    mark(reminder, deliver(reminder, post))
    return True


def lease_next() -> Reminder | None:
    """Takes the next due row for this worker alone, those never tried first; None when nothing is due."""
    while True:
        now = timezone.now()
        due = Reminder.objects.due(now)
        pk = due.order_by("attempts", "due_at", "pk").values_list("pk", flat=True).first()
        if pk is None:
            return None
        until = now + timedelta(seconds=settings.REMINDER_LEASE_SECONDS)
        lease = {"state": State.SENDING, "leased_until": until, "attempts": F("attempts") + 1}
        if due.filter(pk=pk).update(**lease):
            return Reminder.objects.get(pk=pk)  # session and person are read at delivery


def deliver(reminder: Reminder, post: Post) -> Outcome:
    """Hands the letter over if it is still wanted. Nothing that goes wrong here stops the rows after it."""
    if refusal := why_not(reminder):
        return refusal
    try:
        post.hand_over(letter(reminder))
    except Undelivered as error:
        return _failed(error.words) if error.trouble is Trouble.REFUSED else _later(reminder, error.words)
    except Exception as error:
        log.exception("Reminder %s could not be written", reminder.key)
        return _later(reminder, f"The letter could not be written: {error}")
    return Outcome(State.SENT)


def why_not(reminder: Reminder) -> Outcome | None:
    """Why this row must not be sent as things stand at this moment; None if it may."""
    if not wanted(reminder):
        return Outcome(State.DROPPED, "The session or its crew has changed.")
    if reminder.useless_after <= timezone.now():
        return Outcome(State.MISSED, "Too late: what it was for is over.")
    if not reminder.person.email:
        return _failed(f"{reminder.person} has no e-mail address.")
    if reminder.attempts > MOST_TRIES:
        return _failed(f"Given up after {MOST_TRIES} tries, at which the worker stopped in the middle.")
    return None


def wanted(reminder: Reminder) -> bool:
    """The session stands, the person is still on it, and no later row tells the same of a moved session."""
    standing = Session.objects.standing().filter(pk=reminder.session_id)
    called = standing.filter(
        crew__person=reminder.person_id, crew__role=Role.ASSISTANT, crew__person__is_active=True
    )
    same = Reminder.objects.filter(session=reminder.session_id, person=reminder.person_id, kind=reminder.kind)
    return called.exists() and not same.filter(pk__gt=reminder.pk).exclude(state=State.DROPPED).exists()


def mark(reminder: Reminder, outcome: Outcome) -> bool:
    """Writes the outcome down, unless the lease has gone to somebody else meanwhile. Says whether it did."""
    held = Reminder.objects.filter(pk=reminder.pk, state=State.SENDING, leased_until=reminder.leased_until)
    changed = held.update(
        state=outcome.state,
        error=outcome.words[:300],
        leased_until=outcome.again_at,
        sent_at=timezone.now() if outcome.state == State.SENT else None,
    )
    if not changed:
        log.warning("The lease of reminder %s ran out while it was being sent", reminder.key)
    return bool(changed)


def _failed(words: str) -> Outcome:
    return Outcome(State.FAILED, words)


def _later(reminder: Reminder, words: str) -> Outcome:
    """The next try: after 30 s, then twice as long each time up to 10 minutes; failed after the twelfth."""
    if reminder.attempts >= MOST_TRIES:
        return _failed(f"Given up after {MOST_TRIES} tries: {words}")
    pause = min(FIRST_PAUSE * 2 ** (reminder.attempts - 1), LONGEST_PAUSE)
    return Outcome(State.SENDING, words, timezone.now() + pause)
