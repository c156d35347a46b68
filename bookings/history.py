"""Writing a session's history."""

from __future__ import annotations

from django.utils import timezone

from bookings.models import Session, SessionEntry
from studio.models import Person


def note(session: Session, by: Person | None, what: str, words: str) -> None:
    """One entry; nobody did it where `by` is None: it came with the time."""
    SessionEntry.objects.create(session=session, at=timezone.now(), by=by, what=what, words=words)
