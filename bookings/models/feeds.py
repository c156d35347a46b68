"""Secret addresses of calendar feeds."""

from __future__ import annotations

import secrets

from django.db import models
from django.db.models import Q

from studio.models import Person, Room


def new_token() -> str:
    """160 random bits, safe in an address."""
    return secrets.token_urlsafe(20)


class Feed(models.Model):
    """One calendar address: of one person's calls or of one room. Whoever has the token may read it."""

    token = models.CharField(max_length=40, unique=True, default=new_token, editable=False)
    owner = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="feeds")
    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="feeds", null=True, blank=True)
    made_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["owner", "room"], name="bookings_feed_of_room_once"),
            models.UniqueConstraint(
                fields=["owner"], condition=Q(room__isnull=True), name="bookings_feed_of_person_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.room or self.owner}"
