"""What an engineer has added to a session's inputs by hand, dropped, or allowed. Each plan keeps it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from bookings.models import Session
from studio.models import Person


class ByHand(models.Model):
    """add: a source by its id, how many and how it is picked up (as the reader says it). drop: an input by its
    label. allow: one more kind of microphone, or one more kind of stand, for an input by its label.
    """

    class Act(models.TextChoices):
        ADD = "add", "added"
        DROP = "drop", "dropped"
        ALLOW = "allow", "allowed"
        STAND = "stand", "another stand"

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="by_hand")
    act = models.CharField(max_length=5, choices=Act)
    label = models.CharField(max_length=120, blank=True)
    source = models.CharField(max_length=60, blank=True)
    count = models.PositiveSmallIntegerField(default=1)
    pickup = models.CharField(max_length=7, blank=True)
    kind = models.CharField(max_length=40, blank=True)
    by = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(act="add") & ~Q(source="") & Q(label="")) | (~Q(act="add") & ~Q(label="")),
                name="tasks_by_hand_of_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_act_display()}: {self.label or self.source}"
