"""Who is on a session: rows kept where a person stays, so that their answer stays too."""

from __future__ import annotations

from django.utils import timezone

from bookings.drafts import Called, Draft
from bookings.models import Crew, Session, TakenOff


def call(session: Session, draft: Draft) -> None:
    """Make the session's crew as the draft has it. Whoever goes is remembered as taken off."""
    standing = {crew.person_id: crew for crew in Crew.objects.filter(session=session)}
    for called in draft.crew:
        row = standing.pop(called.person_id, None) or Crew(session=session, person_id=called.person_id)
        _fill(row, called, draft)
    for row in standing.values():
        _take_off(row)
    TakenOff.objects.filter(session=session, person__in=[c.person_id for c in draft.crew]).delete()


def _fill(row: Crew, called: Called, draft: Draft) -> None:
    """An answer was for these hours in these rooms: others are asked about anew (see forget_answers)."""
    before = (row.call_at, row.until) if row.pk else None
    row.call_at, row.until = draft.call_of(called)
    row.role, row.assigned = called.role, called.assigned
    if before != (row.call_at, row.until):
        row.answer, row.answered_at = Crew.Answer.NONE, None
    row.save()


def forget_answers(session: Session) -> None:
    """For a change that everybody has to be asked about: another room."""
    session.crew.update(answer=Crew.Answer.NONE, answered_at=None)


def _take_off(row: Crew) -> None:
    fields = {"role": row.role, "call_at": row.call_at, "until": row.until, "at": timezone.now()}
    TakenOff.objects.update_or_create(session=row.session, person=row.person, defaults=fields)
    row.delete()
