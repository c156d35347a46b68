"""What beat wakes: the work itself stands in rows, so a lost or doubled wake-up does no harm."""

from __future__ import annotations

from celery import shared_task

from tasks.follow import replan_stale
from tasks.reminders.send import send_due
from tasks.together import weigh_waiting


@shared_task
def send_due_reminders() -> None:
    send_due()


@shared_task
def replan() -> None:
    """Sessions whose plan could not be made, or stands on what has changed, are planned anew; then those that
    want the same gear in the same hours are weighed together."""
    replan_stale()
    weigh_waiting()
