"""Where somebody has put a source on the floor of a session by hand. Metres."""

from __future__ import annotations

from django.db import models

from bookings.models import Session
from studio.models import Person, Room


class SourcePlace(models.Model):
    """key names the source as tasks.floor.stations does. It holds in the room for which it was chosen."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="source_places")
    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=120)
    x = models.FloatField()
    y = models.FloatField()
    by = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["key", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["session", "room", "key"], name="tasks_source_place_once")
        ]

    def __str__(self) -> str:
        return f"{self.key}: {self.x:g}, {self.y:g}"
