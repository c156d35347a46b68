"""Sending reminders, each only if it is still wanted at that moment. How rows go out once: studio.outbox."""

from __future__ import annotations

from bookings.models import Session
from studio.models import Role
from studio.outbox import FIRST_PAUSE, MOST_TRIES, Outcome, failed, hand_over, mark, send_round
from studio.outbox import lease_next as lease_next_of
from studio.outbox import why_not as why_no_letter
from studio.post import Post
from tasks.models import Reminder
from tasks.reminders.letters import letter

__all__ = ["FIRST_PAUSE", "MOST_TRIES", "Outcome", "deliver", "lease_next", "mark", "send_due", "send_next"]

State = Reminder.State


def send_due() -> int:
    """One round; gives the number of rows that were dealt with."""
    return send_round(send_next)


def send_next(post: Post) -> bool:
    """Deals with the next row that is due. Says whether there was one."""
    reminder = lease_next()
    if reminder is None:
        return False
    mark(reminder, deliver(reminder, post))
    return True


def lease_next() -> Reminder | None:
    return lease_next_of(Reminder)


def deliver(reminder: Reminder, post: Post) -> Outcome:
    """Hands the letter over if it is still wanted."""
    return why_not(reminder) or hand_over(reminder, post, lambda: letter(reminder))


def why_not(reminder: Reminder) -> Outcome | None:
    """Why this row must not be sent as things stand at this moment; None if it may."""
    if not wanted(reminder):
        return Outcome(State.DROPPED, "The session or its crew has changed.")
    if refusal := why_no_letter(reminder):
        return refusal
    return None if reminder.person.email else failed(f"{reminder.person} has no e-mail address.")


def wanted(reminder: Reminder) -> bool:
    """The session stands, the person is still on it, and no later row tells the same of a moved session."""
    standing = Session.objects.standing().filter(pk=reminder.session_id)
    called = standing.filter(
        crew__person=reminder.person_id, crew__role=Role.ASSISTANT, crew__person__is_active=True
    )
    same = Reminder.objects.filter(session=reminder.session_id, person=reminder.person_id, kind=reminder.kind)
    return called.exists() and not same.filter(pk__gt=reminder.pk).exclude(state=State.DROPPED).exists()
