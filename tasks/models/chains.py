"""What is inserted between preamp and recorder on each input, and what somebody has asked for there."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from bookings.models import Session
from studio.models import Channel, GearUnit, Person
from tasks.models.plans import PlannedInput


class PlannedInsert(models.Model):
    """One place in the chain of an input, counted from 1 at the preamp. Without a unit the wish is unmet.

    settings: pairs of control and value. why: the reasons, or what is missing; help: what would help then.
    """

    input = models.ForeignKey(PlannedInput, on_delete=models.CASCADE, related_name="inserts")
    place = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=14)
    name = models.CharField(max_length=60)
    unit = models.ForeignKey(GearUnit, on_delete=models.PROTECT, null=True, related_name="inserted")
    channel = models.ForeignKey(Channel, on_delete=models.PROTECT, null=True, related_name="inserted")
    settings = models.JSONField(default=list)
    says = models.CharField(max_length=300, blank=True)
    why = models.JSONField(default=list)
    help = models.JSONField(default=list)

    class Meta:
        ordering = ["input", "place", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["input", "place"], name="tasks_insert_place_once"),
            models.CheckConstraint(
                condition=Q(unit__isnull=False) | Q(channel__isnull=True),
                name="tasks_insert_channel_of_a_unit",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}: {self.channel or self.unit or 'nothing'}"


class ChainWish(models.Model):
    """The inserts that somebody wants on an input, by their ids in the catalogue, in order; empty for none at all.

    It goes before what the catalogue says of the source. The input is known by its label, as lists change.
    """

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="chain_wishes")
    label = models.CharField(max_length=120)
    inserts = models.JSONField(default=list)
    by = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["session", "label"], name="tasks_chain_wish_once"),
        ]

    def __str__(self) -> str:
        return f"{self.label}: {', '.join(self.inserts) or 'nothing'}"
