"""Who has seen the papers of a session, and as what."""

from __future__ import annotations

from django.db import models

from bookings.models import Session
from studio.models import Person


class PapersSeen(models.Model):
    """A paper as somebody last saw it: the rows of the sheet that is named by paper (tasks.papers.sheets)."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="papers_seen")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="papers_seen")
    paper = models.CharField(max_length=20, default="inputs")
    at = models.DateTimeField()
    rows = models.JSONField(default=list)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["session", "person", "paper"], name="tasks_papers_seen_once")
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.session}"
