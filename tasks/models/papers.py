"""Who has seen the papers of a session, and as what."""

from __future__ import annotations

from django.db import models

from bookings.models import Session
from studio.models import Person


class PapersSeen(models.Model):
    """The input list as somebody last saw it: rows of tasks.papers.sheets.input_list."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="papers_seen")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="papers_seen")
    at = models.DateTimeField()
    rows = models.JSONField(default=list)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [models.UniqueConstraint(fields=["session", "person"], name="tasks_papers_seen_once")]

    def __str__(self) -> str:
        return f"{self.person}, {self.session}"
