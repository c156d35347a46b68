"""Letters about holds, as rows that are sent once."""

from __future__ import annotations

from django.db import models

from bookings.models.sessions import Session
from studio.models import Posted


class HoldLetter(Posted):
    """To which address, about which hold. answer_by is the deadline that a letter about a challenge names."""

    class Kind(models.TextChoices):
        ASKED = "asked", "asked to answer a challenge"
        REMINDED = "reminded", "reminded of a challenge"
        FIRST = "first", "stands first"
        DECIDE = "decide", "yes or no for tomorrow"

    class To(models.TextChoices):
        HOUSE = "house", "a manager"
        CLIENT = "client", "the client"

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="hold_letters")
    kind = models.CharField(max_length=10, choices=Kind)
    reader = models.CharField(max_length=10, choices=To)
    to = models.EmailField()
    answer_by = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["due_at", "pk"]
        indexes = [models.Index(fields=["state", "due_at"], name="bookings_holdletter_due")]
