"""What must be done for a session, in order, by whom."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from bookings.models import Session
from studio.models import Person
from tasks.models.plans import PlannedInput


class Task(models.Model):
    """One line of a checklist. key names it across re-planning, so that a tick survives a new plan."""

    class Stage(models.TextChoices):
        SETUP = "setup", "setup"
        PHANTOM = "phantom", "phantom check"
        LINE_CHECK = "line_check", "line check"
        BREAKDOWN = "breakdown", "breakdown"

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="tasks")
    key = models.CharField(max_length=80)
    stage = models.CharField(max_length=10, choices=Stage)
    order = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=160)
    details = models.JSONField(default=list, help_text="pairs of word and value: Fetch, Stand, Line, Preamp")
    minutes = models.PositiveSmallIntegerField()
    caution = models.TextField(blank=True)
    input = models.ForeignKey(PlannedInput, on_delete=models.SET_NULL, null=True, related_name="tasks")
    assignee = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, related_name="tasks")
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, related_name="+")
    problem = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["session", "order", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["session", "key"], name="tasks_task_key_once"),
            models.CheckConstraint(
                condition=Q(done_at__isnull=False) | Q(done_by__isnull=True),
                name="tasks_done_by_needs_a_time",
            ),
        ]

    def __str__(self) -> str:
        return self.title
