"""What the input list and the checklist add to a session's open points."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import Count, Q
from django.utils import timezone

from bookings.models import Session
from bookings.morning.looks import Told, at_night
from bookings.needs import Needs, also
from tasks.models import Plan, Task, UnfilledNeed


@also
def open_points(sessions: Sequence[Session]) -> Needs:
    """Inputs that could not be filled, words of the list that nobody understood, problems on the floor."""
    ids = [session.pk for session in sessions if session.end > timezone.now()]
    plans = {plan.session_id: plan for plan in Plan.objects.filter(session__in=ids)}
    open_inputs = UnfilledNeed.objects.filter(plan__session__in=ids)
    unfilled = dict(open_inputs.values_list("plan__session").annotate(Count("pk")).order_by())
    troubled = Task.objects.filter(session__in=ids, done_at__isnull=True).exclude(problem="")
    problems = dict(troubled.values_list("session").annotate(Count("pk")).order_by())
    return {
        pk: [
            *_counted(unfilled.get(pk, 0), "input not filled", "inputs not filled"),
            *_of_plan(plans.get(pk)),
            *_counted(problems.get(pk, 0), "problem on the floor", "problems on the floor"),
        ]
        for pk in ids
    }


@at_night
def broken_down(sessions: Sequence[Session]) -> dict[int, list[Told]]:
    """Whether all is back in its place, and what was wrong on the floor. One query."""
    tasks = Task.objects.filter(session__in=[session.pk for session in sessions])
    found: dict[int, list[Told]] = {}
    rows = tasks.values("session").annotate(
        of=Count("pk", filter=Q(stage=Task.Stage.BREAKDOWN)),
        done=Count("pk", filter=Q(stage=Task.Stage.BREAKDOWN, done_at__isnull=False)),
        problems=Count("pk", filter=~Q(problem="")),
    )
    for row in rows.order_by():
        lines = found.setdefault(row["session"], [])
        if row["of"]:
            lines.append(
                Told("Breakdown", f"{row['done']} of {row['of']} tasks ticked", row["done"] == row["of"])
            )
        if row["problems"]:
            words = _counted(row["problems"], "problem", "problems")[0]
            lines.append(Told("On the floor", f"{words} written down", False))
    return found


def _of_plan(plan: Plan | None) -> list[str]:
    if plan is None:
        return []
    asked = _counted(plan.questions, "question about the list", "questions about the list")
    return [*asked, *(["being planned anew"] if plan.stale else [])]


def _counted(number: int, one: str, many: str) -> list[str]:
    return [f"{number} {one if number == 1 else many}"] if number else []
