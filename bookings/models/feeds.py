"""Secret addresses of calendar feeds."""

from __future__ import annotations

import secrets

from django.db import models
from django.db.models import Q

from bookings.models.jobs import Job
from studio.models import GearUnit, Person, Room, Site

SUBJECTS = ("room", "job", "site", "unit")


def new_token() -> str:
    """160 random bits, safe in an address."""
    return secrets.token_urlsafe(20)


class Feed(models.Model):
    """One calendar address: of the owner's own calls, or of one room, job, site or gear unit. Whoever has the
    token may read it, in as much detail as it says and its owner may see.

    built_for, stamp, etag and last_modified tell what was last built, so that an unchanged feed isn't built again.
    """

    class Detail(models.TextChoices):
        FULL = "full", "everything"
        NO_CLIENT = "no_client", "without the client"
        BUSY = "busy", "busy times only"

    token = models.CharField(max_length=40, unique=True, default=new_token, editable=False)
    owner = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="feeds")
    room = models.ForeignKey(Room, on_delete=models.CASCADE, related_name="feeds", null=True, blank=True)
    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="feeds", null=True, blank=True)
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="feeds", null=True, blank=True)
    unit = models.ForeignKey(GearUnit, on_delete=models.CASCADE, related_name="feeds", null=True, blank=True)
    detail = models.CharField(max_length=10, choices=Detail, default=Detail.FULL)
    made_at = models.DateTimeField()
    built_for = models.CharField(max_length=200, blank=True, editable=False)
    stamp = models.CharField(max_length=64, blank=True, editable=False)
    etag = models.CharField(max_length=40, blank=True, editable=False)
    last_modified = models.DateTimeField(null=True, editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["owner", "room", "detail"], name="bookings_feed_of_room_once"),
            models.UniqueConstraint(fields=["owner", "job", "detail"], name="bookings_feed_of_job_once"),
            models.UniqueConstraint(fields=["owner", "site", "detail"], name="bookings_feed_of_site_once"),
            models.UniqueConstraint(fields=["owner", "unit", "detail"], name="bookings_feed_of_unit_once"),
            models.UniqueConstraint(
                fields=["owner", "detail"],
                condition=Q(room__isnull=True, job__isnull=True, site__isnull=True, unit__isnull=True),
                name="bookings_feed_of_person_once",
            ),
        ]

    def __str__(self) -> str:
        return str(self.subject)

    @property
    def subject(self) -> Person | Room | Job | Site | GearUnit:
        return self.room or self.job or self.site or self.unit or self.owner

    @property
    def subject_name(self) -> str | None:
        """Which of SUBJECTS it is of; None for the owner's own calls."""
        return next((name for name in SUBJECTS if getattr(self, f"{name}_id")), None)
