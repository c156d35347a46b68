"""Calendars in which people are busy elsewhere: an address that is looked at, or a file that was uploaded."""

from __future__ import annotations

import zlib
from datetime import tzinfo
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.models import Person


class BusySource(models.Model):
    """`address` or `filename` is given. `problem` says why the copy is stale, and is empty while it isn't."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="busy_sources")
    address = models.CharField(max_length=1000, blank=True)
    filename = models.CharField(max_length=200, blank=True)
    packed_copy = models.BinaryField(default=b"", editable=False)
    etag = models.CharField(max_length=200, blank=True)
    last_modified = models.CharField(max_length=100, blank=True)
    checked_at = models.DateTimeField(null=True, blank=True)
    good_at = models.DateTimeField(null=True, blank=True)
    problem = models.CharField(max_length=400, blank=True)
    reports = models.JSONField(default=list)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person", "address", "filename"], name="bookings_busy_source_once"
            ),
            models.CheckConstraint(
                condition=~Q(address="") ^ ~Q(filename=""), name="bookings_busy_source_address_or_file"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: calendar {self.pk}"

    @property
    def stale(self) -> bool:
        """Whether the last look failed, so that the copy may be out of date."""
        return bool(self.problem)

    @property
    def copy(self) -> bytes:
        """The last good copy of the calendar."""
        return zlib.decompress(self.packed_copy) if self.packed_copy else b""

    @copy.setter
    def copy(self, data: bytes) -> None:
        self.packed_copy = zlib.compress(data)

    @property
    def tz(self) -> tzinfo:
        return zone_of(self.person)


def zone_of(person: Person) -> ZoneInfo:
    """The clock of the person's site, or the house's."""
    return person.site.tz if person.site else ZoneInfo(settings.TIME_ZONE)
