"""Reminders are rows: a due time, a key that is sent once, a state. The queue only wakes the sender."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from bookings.models import Session
from studio.models import Person


class Reminder(models.Model):
    """state: waiting, sending (leased until leased_until), sent, failed, missed (too late), dropped.

    key is unique for session, person and kind; message_id is made from it, so that a letter that goes out
    twice after a crash carries the same Message-ID (RFC 5322 section 3.6.4).
    """

    class Kind(models.TextChoices):
        MORNING = "morning", "setup checklist"
        PHANTOM = "phantom", "phantom check"
        BREAKDOWN = "breakdown", "breakdown duties"

    class State(models.TextChoices):
        WAITING = "waiting"
        SENDING = "sending"
        SENT = "sent"
        FAILED = "failed"
        MISSED = "missed"
        DROPPED = "dropped"

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="reminders")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="reminders")
    kind = models.CharField(max_length=10, choices=Kind)
    key = models.CharField(max_length=120, unique=True)
    due_at = models.DateTimeField()
    useless_after = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    leased_until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    sent_at = models.DateTimeField(null=True, blank=True)
    message_id = models.CharField(max_length=160, blank=True)
    error = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["due_at", "pk"]
        indexes = [
            models.Index(
                fields=["due_at"],
                condition=Q(state__in=["waiting", "sending"]),
                name="tasks_reminder_due",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} to {self.person}"
