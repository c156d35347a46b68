"""When the queue and beat last gave a sign of life."""

from __future__ import annotations

from django.db import models
from django.utils import timezone


class HeartbeatManager(models.Manager["Heartbeat"]):
    def beat(self, part: Heartbeat.Part) -> None:
        self.update_or_create(part=part, defaults={"beaten_at": timezone.now()})


class Heartbeat(models.Model):
    class Part(models.TextChoices):
        QUEUE = "queue", "queue"
        BEAT = "beat", "beat"

    part = models.CharField(max_length=10, choices=Part, primary_key=True)
    beaten_at = models.DateTimeField()

    objects = HeartbeatManager()

    def __str__(self) -> str:
        return f"{self.get_part_display()}, last heard {self.beaten_at:%Y-%m-%d %H:%M:%S} UTC"
