"""Ticking off: done, not done after all, a problem. Each may be said twice without harm."""

from __future__ import annotations

from django.utils import timezone

from studio.access import Act, require
from studio.models import Person
from tasks.models import Task


def set_done(by: Person, task_id: int) -> None:
    """The first tick stands: who did it and when isn't overwritten by a second press."""
    require(by, Act.TICK)
    Task.objects.filter(pk=task_id, done_at__isnull=True).update(done_at=timezone.now(), done_by=by)


def set_not_done(by: Person, task_id: int) -> None:
    require(by, Act.TICK)
    Task.objects.filter(pk=task_id).update(done_at=None, done_by=None)


def set_problem(by: Person, task_id: int, words: str) -> None:
    """Say what is wrong with it; no words takes the problem away. What can't be seen is left out."""
    require(by, Act.TICK)
    seen = "".join(char if char.isprintable() else " " for char in words)
    Task.objects.filter(pk=task_id).update(problem=" ".join(seen.split())[:300])
