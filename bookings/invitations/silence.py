"""What a session still needs of the people who were invited to it."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils import timezone

from bookings.models import CallLetter, Crew, Session
from bookings.needs import Needs, also

Answer = Crew.Answer


@also
def answers_missing(sessions: Sequence[Session]) -> Needs:
    """Who has declined, who hasn't answered though the invitation has gone out. One query."""
    now = timezone.now()
    ahead = [session for session in sessions if session.end > now and not session.is_hold]
    open_calls = {
        session.pk: [
            c for c in session.crew.all() if c.assigned and c.until > now and c.answer != Answer.ACCEPTED
        ]
        for session in ahead
    }
    silent = [pk for pk, calls in open_calls.items() if any(call.answer == Answer.NONE for call in calls)]
    letters = CallLetter.objects.filter(kind=CallLetter.Kind.REQUEST, state=CallLetter.State.SENT)
    asked = set(letters.filter(session__in=silent).values_list("session_id", "person_id"))
    return {
        pk: [words for call in calls if (words := _said(call, asked))]
        for pk, calls in open_calls.items()
        if calls
    }


def _said(call: Crew, asked: set[tuple[int, int]]) -> str:
    if call.answer == Answer.DECLINED:
        return f"{call.person.name} has declined"
    if call.answer == Answer.TENTATIVE:
        return f"{call.person.name} says perhaps"
    silent = (call.session_id, call.person_id) in asked
    return f"no answer from {call.person.name}" if silent else ""
