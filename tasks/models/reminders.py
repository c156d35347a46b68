"""Reminders are rows: a due time, a key that is sent once, a state. The queue only wakes the sender."""

from __future__ import annotations

from django.db import models

from bookings.models import Session
from studio.models import Person, Posted, Room


class Reminder(Posted):
    """state: waiting, sending (leased until leased_until), sent, failed, missed (too late), dropped.

    key is unique for session, person, kind and how often it had to be told; message_id is made from it, so
    that a letter that goes out twice after a crash carries the same Message-ID (RFC 5322 section 3.6.4).
    due_at and room are what the letter is for; after a bigger move a told reminder gets a row of its own.
    A waiting row belongs to rows.py, one that is being sent to whoever holds its lease.
    """

    class Kind(models.TextChoices):
        MORNING = "morning", "setup checklist"
        PHANTOM = "phantom", "phantom check"
        BREAKDOWN = "breakdown", "breakdown duties"

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="reminders")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="reminders")
    room = models.ForeignKey(Room, on_delete=models.SET_NULL, null=True, related_name="+")
    kind = models.CharField(max_length=10, choices=Kind)

    class Meta:
        ordering = ["due_at", "pk"]
        # not a partial index: SQLite wouldn't use one whose condition comes as parameters
        indexes = [models.Index(fields=["state", "due_at"], name="tasks_reminder_due")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} to {self.person}"
