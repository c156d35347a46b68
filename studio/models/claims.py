"""Resources and claims: the one table behind every question about what is free."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from django.contrib.contenttypes.fields import GenericForeignKey
from django.contrib.contenttypes.models import ContentType
from django.db import models
from django.db.models import F, Q, Value
from django.db.models.functions import Coalesce

from studio.spans import Span

FAR_AHEAD = datetime(9999, 1, 1, tzinfo=UTC)


class Resource(models.Model):
    """Anything that can be taken for a span of time. capacity is 1, or the count of a stock."""

    class Kind(models.TextChoices):
        ROOM = "room"
        PERSON = "person"
        UNIT = "unit"
        CHANNEL = "channel"
        STOCK = "stock"

    kind = models.CharField(max_length=10, choices=Kind)
    name = models.CharField(max_length=200)
    exclusive = models.BooleanField(default=True)
    capacity = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(exclusive=False) | Q(capacity=1), name="studio_resource_exclusive_is_one"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Claimable(models.Model):
    """A thing of the house that is a resource: its resource is made with it and named after it."""

    resource = models.OneToOneField(
        Resource, on_delete=models.PROTECT, editable=False, related_name="%(class)s"
    )

    resource_kind: Resource.Kind

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.resource_id is None:
            self.resource = Resource.objects.create(**self.resource_fields())
        else:
            Resource.objects.filter(pk=self.resource_id).update(**self.resource_fields())
        super().save(*args, **kwargs)

    def resource_name(self) -> str:
        return str(self)

    def resource_fields(self) -> dict[str, Any]:
        return {"kind": self.resource_kind, "name": self.resource_name()[:200]}


Origins = models.Model | Iterable[models.Model] | None
"""What has made claims, such as a session; or several, or nothing."""


class ClaimQuerySet(models.QuerySet["Claim"]):
    def overlapping(self, span: Span) -> ClaimQuerySet:
        """Claims that share an instant with the half-open span."""
        found = self.filter(until__gt=span.start)
        return found if span.end is None else found.filter(starts__lt=span.end)

    def firm(self) -> ClaimQuerySet:
        return self.filter(firm=True)

    def of(self, origin: models.Model) -> ClaimQuerySet:
        """The claims that this session, fault or closure makes."""
        return self.filter(origin_type=ContentType.objects.get_for_model(origin), origin_id=origin.pk)

    def not_of(self, origins: Origins) -> ClaimQuerySet:
        found = self.all()
        for origin in [origins] if isinstance(origins, models.Model) else origins or []:
            if origin.pk is not None:
                kind = ContentType.objects.get_for_model(origin)
                found = found.exclude(origin_type=kind, origin_id=origin.pk)
        return found


class Claim(models.Model):
    """A span [starts, ends) in which a resource is taken, why and how firmly. ends is None if open-ended.

    until is the same end for the database's index: FAR_AHEAD where no end is known.
    """

    class Purpose(models.TextChoices):
        SETUP = "setup", "setup"
        SESSION = "session", "session"
        SPARE = "spare", "spare time agreed"
        STAYS = "stays", "stays set"
        TURNAROUND = "turnaround", "turnaround"
        CALL = "call", "called"
        GEAR = "gear", "in use"
        REPAIR = "repair", "out for repair"
        SERVICE = "service", "being serviced"
        TRAVEL = "travel", "on its way"
        LENT = "lent", "lent or hired out"
        NOT_HERE = "not_here", "not in the house"
        CLOSURE = "closure", "closed"
        UPKEEP = "upkeep", "upkeep or repair"
        LEAVE = "leave", "leave"
        BUSY = "busy", "busy elsewhere"

    resource = models.ForeignKey(Resource, on_delete=models.PROTECT, related_name="claims")
    starts = models.DateTimeField()
    ends = models.DateTimeField(null=True, blank=True)
    until = models.GeneratedField(
        expression=Coalesce("ends", Value(FAR_AHEAD)),
        output_field=models.DateTimeField(),
        db_persist=True,
    )
    purpose = models.CharField(max_length=12, choices=Purpose)
    firm = models.BooleanField(default=True)
    exclusive = models.BooleanField(default=True)
    quantity = models.PositiveIntegerField(default=1)
    reason = models.CharField(max_length=200)
    origin_type = models.ForeignKey(ContentType, on_delete=models.PROTECT)
    origin_id = models.PositiveBigIntegerField()
    origin = GenericForeignKey("origin_type", "origin_id")

    objects = ClaimQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(ends__isnull=True) | Q(ends__gt=F("starts")), name="studio_claim_ends_after_start"
            ),
            models.CheckConstraint(condition=Q(quantity__gte=1), name="studio_claim_takes_something"),
        ]
        indexes = [
            models.Index(fields=["resource", "until", "starts"], name="studio_claim_when"),
            models.Index(fields=["origin_type", "origin_id"], name="studio_claim_origin"),
        ]

    def __str__(self) -> str:
        return f"{self.resource}: {self.reason}"

    @property
    def span(self) -> Span:
        return Span(self.starts, self.ends)
