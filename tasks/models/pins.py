"""What an engineer has chosen by hand, and a new plan keeps where it can."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from bookings.models import Session
from studio.models import Channel, GearUnit, Person


class Pin(models.Model):
    """The unit, or the preamp channel, of one input; the input is known by its label, as lists change."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="pins")
    label = models.CharField(max_length=120)
    unit = models.ForeignKey(GearUnit, on_delete=models.CASCADE, null=True, related_name="pins")
    preamp_channel = models.ForeignKey(Channel, on_delete=models.CASCADE, null=True, related_name="pins")
    by = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(unit__isnull=False) ^ Q(preamp_channel__isnull=False),
                name="tasks_pin_of_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.label}: {self.unit or self.preamp_channel}"
