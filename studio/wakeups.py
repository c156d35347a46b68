"""Signs of life: beat marks itself whenever it sends something, the queue when a worker has got it."""

from __future__ import annotations

from typing import Any

from celery import shared_task
from celery.signals import beat_init, before_task_publish
from django.db import close_old_connections

from studio import faults, notices
from studio.models import Heartbeat
from studio.whereabouts import moves


@shared_task
def heartbeat() -> None:
    Heartbeat.objects.beat(Heartbeat.Part.QUEUE)


@shared_task
def keep_overdue_out() -> None:
    faults.keep_overdue_out()
    moves.raise_overdue()


@shared_task
def send_notices() -> None:
    notices.send_due()


@beat_init.connect
def begin(**_: Any) -> None:
    """Runs in the beat process only, and gives the first signs of life at once: a start is soon seen."""
    before_task_publish.connect(mark_beat)
    heartbeat.delay()


def mark_beat(**_: Any) -> None:
    close_old_connections()
    Heartbeat.objects.beat(Heartbeat.Part.BEAT)
