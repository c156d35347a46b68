"""What the input list and the checklist add to a session's open points."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import Count
from django.utils import timezone

from bookings.models import Session
from bookings.needs import Needs, also
from tasks.catalogue import load_catalogue
from tasks.models import Plan, Task
from tasks.reading import read


@also
def open_points(sessions: Sequence[Session]) -> Needs:
    """Inputs that could not be filled, words of the list that nobody understood, problems on the floor."""
    ahead = [session for session in sessions if session.end > timezone.now()]
    ids = [session.pk for session in ahead]
    plans = Plan.objects.filter(session__in=ids).annotate(open=Count("unfilled"))
    unfilled = {plan.session_id: plan.open for plan in plans}
    stale = {plan.session_id for plan in plans if plan.stale}
    troubled = Task.objects.filter(session__in=ids, done_at__isnull=True).exclude(problem="")
    problems = dict(troubled.values("session").annotate(n=Count("pk")).values_list("session", "n"))
    return {
        session.pk: [
            *_counted(unfilled.get(session.pk, 0), "input not filled", "inputs not filled"),
            *_counted(_questions(session), "question about the list", "questions about the list"),
            *_counted(problems.get(session.pk, 0), "problem on the floor", "problems on the floor"),
            *(["being planned anew"] if session.pk in stale else []),
        ]
        for session in ahead
    }


def _counted(number: int, one: str, many: str) -> list[str]:
    return [f"{number} {one if number == 1 else many}"] if number else []


def _questions(session: Session) -> int:
    return len(read(session.instrument_list, load_catalogue()).questions)
