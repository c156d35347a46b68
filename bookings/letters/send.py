"""Sending letters about holds, each only if what it says is still so. How rows go out once: studio.outbox."""

from __future__ import annotations

from django.utils import timezone

from bookings.ladder import holds_above, stands
from bookings.letters.letter import letter
from bookings.models import HoldLetter
from studio.outbox import Outcome, hand_over, lease_next, mark, send_round, why_not
from studio.post import Post

Kind = HoldLetter.Kind


def send_hold_letters() -> int:
    """One round; gives the number of rows that were dealt with."""
    return send_round(send_next)


def send_next(post: Post) -> bool:
    """Deals with the next row that is due. Says whether there was one."""
    row = lease_next(HoldLetter)
    if row is None:
        return False
    mark(row, deliver(row, post))
    return True


def deliver(row: HoldLetter, post: Post) -> Outcome:
    if not wanted(row):
        return Outcome(HoldLetter.State.DROPPED, "The hold has been answered, moved or let go.")
    return why_not(row) or hand_over(row, post, lambda: letter(row))


def wanted(row: HoldLetter) -> bool:
    """The hold stands; it is still asked by that deadline, or still first."""
    hold, now = row.session, timezone.now()
    if not stands(hold, now):
        return False
    if row.kind in (Kind.ASKED, Kind.REMINDED):
        return hold.answer_by == row.answer_by
    return row.kind != Kind.FIRST or not holds_above(hold, now)
