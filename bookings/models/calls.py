"""Invitations to a person's call, as letters that are sent once (iTIP over e-mail)."""

from __future__ import annotations

from django.db import models

from bookings.models.sessions import Session
from studio.models import Person, Posted


class CallLetter(Posted):
    """To one person about one session, at one sequence. The first two carry `calendar`, an iTIP message (RFC 5546)
    frozen when the row is written; the others say `words`.
    """

    class Kind(models.TextChoices):
        REQUEST = "request", "invited or told of a change"
        CANCEL = "cancel", "told that the call is off"
        CHASE = "chase", "asked once more for an answer"
        DECLINED = "declined", "told that somebody has declined"
        PUSHED = "pushed", "told that the session before runs on"

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="call_letters")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="call_letters")
    kind = models.CharField(max_length=10, choices=Kind)
    sequence = models.PositiveIntegerField()
    to = models.EmailField()
    calendar = models.TextField(blank=True)
    words = models.TextField(blank=True)

    class Meta:
        ordering = ["due_at", "pk"]
        indexes = [models.Index(fields=["state", "due_at"], name="bookings_callletter_due")]
