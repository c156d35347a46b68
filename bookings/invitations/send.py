"""Sending invitations, each only if what it says is still so. How rows go out once: studio.outbox."""

from __future__ import annotations

from django.utils import timezone

from bookings.invitations.letter import letter
from bookings.invitations.rows import last_letters
from bookings.models import CallLetter, Crew, Session
from studio.outbox import Outcome, hand_over, lease_next, mark, send_round, why_not
from studio.post import Post

Kind = CallLetter.Kind


def send_calls() -> int:
    """One round; gives the number of rows that were dealt with."""
    return send_round(send_next)


def send_next(post: Post) -> bool:
    row = lease_next(CallLetter)
    if row is None:
        return False
    mark(row, deliver(row, post))
    return True


def deliver(row: CallLetter, post: Post) -> Outcome:
    if not wanted(row):
        return Outcome(CallLetter.State.DROPPED, "It isn't so any more.")
    return why_not(row) or hand_over(row, post, lambda: letter(row))


def wanted(row: CallLetter) -> bool:
    """An invitation or a cancellation that is the newest; a chase of somebody who is silent still."""
    confirmed = row.session.status == Session.Status.CONFIRMED
    if row.kind not in (Kind.REQUEST, Kind.CANCEL, Kind.CHASE):
        return confirmed
    last = last_letters(row.session).get(row.person_id)
    if row.kind == Kind.CANCEL:
        return last is not None and last.pk == row.pk
    call = Crew.objects.filter(session=row.session_id, person=row.person_id, assigned=True).first()
    if not confirmed or call is None or last is None or last.kind != Kind.REQUEST:
        return False
    if row.kind == Kind.REQUEST:
        return last.pk == row.pk
    silent = call.answer == Crew.Answer.NONE and call.call_at > timezone.now()
    return silent and last.calendar == row.calendar
