"""Short letters to people of the house about what concerns them, each sent once."""

from __future__ import annotations

from django.db import models

from studio.models.outbox import Posted
from studio.models.people import Person


class Notice(Posted):
    """path: where on the site it can be looked at."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="notices")
    subject = models.CharField(max_length=150)
    text = models.TextField()
    path = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["due_at", "pk"]
        indexes = [models.Index(fields=["state", "due_at"], name="studio_notice_due")]
