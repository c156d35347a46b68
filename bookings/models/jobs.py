"""Clients and their jobs."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from studio.models.telling import TellingManager


class Client(models.Model):
    name = models.CharField(max_length=120, unique=True)
    contact = models.CharField(max_length=120, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    is_house = models.BooleanField(default=False, editable=False)

    objects: ClassVar[models.Manager[Client]] = TellingManager()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Job(models.Model):
    """What a client comes for: one or more sessions. hourly_rate is for booked hours, in `currency`."""

    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="jobs")
    title = models.CharField(max_length=120)
    hourly_rate = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    currency = models.CharField(max_length=3, default="EUR", help_text="ISO 4217 code")
    note = models.TextField(blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)

    objects: ClassVar[models.Manager[Job]] = TellingManager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(hourly_rate__isnull=True) | models.Q(hourly_rate__gte=0),
                name="bookings_job_rate_not_negative",
            )
        ]

    def __str__(self) -> str:
        return self.title
