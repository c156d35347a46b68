"""Sites and rooms. A room may be a composite of others: taking it takes its parts."""

from __future__ import annotations

import zoneinfo
from collections.abc import Iterable

from django.core.exceptions import ValidationError
from django.db import models

from studio.models.claims import Claimable, Resource


def known_zone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise ValidationError(f"“{name}” is not a zone of the IANA database. Write it like Europe/Berlin.")


class Site(models.Model):
    name = models.CharField(max_length=80, unique=True)
    zone = models.CharField(max_length=60, validators=[known_zone], help_text="IANA name, like Europe/Berlin")

    def __str__(self) -> str:
        return self.name

    @property
    def tz(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.zone)


class Room(Claimable):
    """lines: wall-box lines; recorder_inputs: inputs of the recorder that this room reaches."""

    resource_kind = Resource.Kind.ROOM

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="rooms")
    name = models.CharField(max_length=80)
    remark = models.CharField(max_length=120, blank=True)
    parts = models.ManyToManyField("self", symmetrical=False, blank=True, related_name="wholes")
    setup_minutes = models.PositiveSmallIntegerField(default=60)
    turnaround_minutes = models.PositiveSmallIntegerField(default=60)
    lines = models.PositiveSmallIntegerField(default=0)
    recorder_inputs = models.PositiveSmallIntegerField(default=0)
    people = models.PositiveSmallIntegerField("most people", default=0)
    order = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["site_id", "order", "name"]
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="studio_room_name_in_site")]

    def __str__(self) -> str:
        return self.name

    def with_parts(self) -> list[Room]:
        """This room and everything it is made of, itself first."""
        found = {self.pk: self}
        open_rooms: Iterable[Room] = [self]
        while open_rooms:
            parts = Room.objects.filter(wholes__in=open_rooms).exclude(pk__in=found).distinct()
            open_rooms = list(parts)
            found.update({room.pk: room for room in open_rooms})
        return list(found.values())
