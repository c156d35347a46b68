"""How a unit was set in a session: in words and pictures, for the next one of the job."""

from __future__ import annotations

from django.db import models

from bookings.models import Session
from studio.models import GearUnit, Person, Photo


class UnitSetting(models.Model):
    """The settings of one exact unit, as whoever worked with it wrote them down."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="unit_settings")
    unit = models.ForeignKey(GearUnit, on_delete=models.CASCADE, related_name="settings_noted")
    words = models.TextField(max_length=2000, blank=True)
    photos = models.ManyToManyField(Photo, blank=True, related_name="of_settings")
    by = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["unit", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["session", "unit"], name="tasks_unit_setting_once"),
        ]

    def __str__(self) -> str:
        return f"{self.unit}, {self.session}"
