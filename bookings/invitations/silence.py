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
    ahead = {
        s.pk: s for s in sessions if s.end > now and any(c.answer != Answer.ACCEPTED for c in s.crew.all())
    }
    letters = CallLetter.objects.filter(kind=CallLetter.Kind.REQUEST, state=CallLetter.State.SENT)
    asked = set(letters.filter(session__in=ahead).values_list("session_id", "person_id")) if ahead else set()
    return {
        pk: [words for call in session.crew.all() if (words := _said(call, asked))]
        for pk, session in ahead.items()
    }


def _said(call: Crew, asked: set[tuple[int, int]]) -> str:
    if call.answer == Answer.DECLINED:
        return f"{call.person.name} has declined"
    if call.answer == Answer.TENTATIVE:
        return f"{call.person.name} says perhaps"
    silent = call.answer == Answer.NONE and (call.session_id, call.person_id) in asked
    return f"no answer from {call.person.name}" if silent else ""
