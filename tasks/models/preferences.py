"""What an engineer, or the house, always wants for a source; and what the house makes each cost of a plan."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from studio.models import GearModel, GearUnit, Person


class Preference(models.Model):
    """For one source by its id, or for a family: a kind, a model or a unit, in order, or never that.

    person is whose it is; none for the house's own.
    """

    person = models.ForeignKey(Person, on_delete=models.CASCADE, null=True, related_name="preferences")
    source = models.CharField(max_length=60, blank=True)
    family = models.CharField(max_length=60, blank=True)
    never = models.BooleanField(default=False)
    kind = models.CharField(max_length=40, blank=True)
    gear_model = models.ForeignKey(GearModel, on_delete=models.CASCADE, null=True, related_name="preferred")
    unit = models.ForeignKey(GearUnit, on_delete=models.CASCADE, null=True, related_name="preferred")
    order = models.PositiveSmallIntegerField()
    at = models.DateTimeField()

    class Meta:
        ordering = ["order", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(source="") ^ Q(family=""), name="tasks_preference_for_source_or_family"
            ),
            models.CheckConstraint(
                condition=(Q(gear_model__isnull=True, unit__isnull=True) & ~Q(kind=""))
                | Q(kind="", gear_model__isnull=False, unit__isnull=True)
                | Q(kind="", gear_model__isnull=True, unit__isnull=False),
                name="tasks_preference_of_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return f"{'never ' if self.never else ''}{self.wants}"

    @property
    def wants(self) -> str:
        """The kind, the model or the tag, as the planner knows it."""
        return self.kind or str(self.gear_model or (self.unit and self.unit.tag) or "")

    @property
    def kind_meant(self) -> str:
        """The kind of what is wanted; empty where the house doesn't know it."""
        model = self.unit.gear_model if self.unit else self.gear_model
        if model is None:
            return self.kind
        if hasattr(model, "microphone"):
            return str(model.microphone.transducer)
        box = getattr(model, "direct_box", None)
        return "" if box is None else "active di" if box.active else "passive di"


class HouseCost(models.Model):
    """A cost of tasks.planning.costs that the house has changed, by its field."""

    field = models.CharField(max_length=40, unique=True)
    value = models.PositiveIntegerField()
    by = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["field"]

    def __str__(self) -> str:
        return f"{self.field}: {self.value}"
