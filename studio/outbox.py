"""Sending rows: lease one, hand its letter over, mark it.

A lease and a mark are each one conditional UPDATE, and no transaction is open while the mail server talks.
Losing a letter is worse than sending it twice: a worker that dies between hand-over and mark leaves its row
leased, and when the lease has run out the same letter goes out again with the same Message-ID. Every other
row goes out once, however many workers and ticks there are.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TypeVar

from django.conf import settings
from django.core.mail import EmailMessage
from django.db.models import F
from django.utils import timezone

from studio.models import Posted
from studio.post import Post, Trouble, Undelivered

State = Posted.State
Row = TypeVar("Row", bound=Posted)
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


def send_round(send_next: Callable[[Post], bool]) -> int:
    """Sends what is due for up to a minute. Gives the number of rows that were dealt with.

    Where the mail server is down the round ends, so that the worker isn't kept from other work; the next
    tick goes on with the next row.
    """
    until = time.monotonic() + ROUND_SECONDS
    done = 0
    with Post() as post:
        while not post.down and time.monotonic() < until and send_next(post):
            done += 1
    return done


def lease_next(kind: type[Row]) -> Row | None:
    """Takes the next due row for this worker alone, those never tried first; None when nothing is due."""
    while True:
        now = timezone.now()
        due = kind.objects.due(now)
        pk = due.order_by("attempts", "due_at", "pk").values_list("pk", flat=True).first()
        if pk is None:
            return None
        until = now + timedelta(seconds=settings.REMINDER_LEASE_SECONDS)
        lease = {"state": State.SENDING, "leased_until": until, "attempts": F("attempts") + 1}
        if due.filter(pk=pk).update(**lease):
            return kind.objects.get(pk=pk)  # what it is about is read at delivery


def hand_over(row: Posted, post: Post, letter: Callable[[], EmailMessage]) -> Outcome:
    """Writes the letter and hands it over. Nothing that goes wrong here stops the rows after it."""
    try:
        post.hand_over(letter())
    except Undelivered as error:
        return failed(error.words) if error.trouble is Trouble.REFUSED else later(row, error.words)
    except Exception as error:
        log.exception("Letter %s could not be written", row.key)
        return later(row, f"The letter could not be written: {error}")
    return Outcome(State.SENT)


def why_not(row: Posted) -> Outcome | None:
    """Too late, or tried too often; None if it may go out."""
    if row.useless_after <= timezone.now():
        return Outcome(State.MISSED, "Too late: what it was for is over.")
    if row.attempts > MOST_TRIES:
        return failed(f"Given up after {MOST_TRIES} tries, at which the worker stopped in the middle.")
    return None


def mark(row: Posted, outcome: Outcome) -> bool:
    """Writes the outcome down, unless the lease has gone to somebody else meanwhile. Says whether it did."""
    held = type(row)._default_manager.filter(pk=row.pk, state=State.SENDING, leased_until=row.leased_until)
    changed = held.update(
        state=outcome.state,
        error=outcome.words[:300],
        leased_until=outcome.again_at,
        sent_at=timezone.now() if outcome.state == State.SENT else None,
    )
    if not changed:
        log.warning("The lease of letter %s ran out while it was being sent", row.key)
    return bool(changed)


def failed(words: str) -> Outcome:
    return Outcome(State.FAILED, words)


def later(row: Posted, words: str) -> Outcome:
    """The next try: after 30 s, then twice as long each time up to 10 minutes; failed after the twelfth."""
    if row.attempts >= MOST_TRIES:
        return failed(f"Given up after {MOST_TRIES} tries: {words}")
    pause = min(FIRST_PAUSE * 2 ** (row.attempts - 1), LONGEST_PAUSE)
    return Outcome(State.SENDING, words, timezone.now() + pause)
