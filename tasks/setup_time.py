"""What the plan of a session says about its setup time."""

from __future__ import annotations

from django.db.models import Count, Sum

from bookings.models import Session
from bookings.setups import SetupWork, by_plan
from tasks.models import Task


@by_plan
def setup_work(session: Session) -> SetupWork | None:
    """The minutes of its setup tasks, done or not; None without a plan. One query."""
    found = session.tasks.filter(stage=Task.Stage.SETUP, session__plan__isnull=False)
    summed = found.aggregate(tasks=Count("pk"), minutes=Sum("minutes"))
    return SetupWork(summed["tasks"], summed["minutes"]) if summed["tasks"] else None
