"""Prevention: what a unit or a model wants done every so many days or hours of use, and when it was done."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from studio.models.gear import GearModel, GearUnit, Stock
from studio.models.people import Person


class ServicePlan(models.Model):
    """For one unit, for every unit of a model, or for a counted stock: a round in which each cable is tested.

    every_hours counts hours of sessions that used the unit. before_use_days: done at most so many days before
    each session that uses it, as a piano is tuned. takes_room: nobody else is in its room meanwhile.
    electrical: an inspection or test of electrical safety, for a competent person by the local rules.
    """

    what = models.CharField(max_length=120)
    gear_model = models.ForeignKey(
        GearModel, on_delete=models.CASCADE, null=True, blank=True, related_name="service_plans"
    )
    unit = models.ForeignKey(
        GearUnit, on_delete=models.CASCADE, null=True, blank=True, related_name="service_plans"
    )
    stock = models.ForeignKey(
        Stock, on_delete=models.CASCADE, null=True, blank=True, related_name="service_plans"
    )
    every_days = models.PositiveSmallIntegerField(null=True, blank=True)
    every_hours = models.PositiveIntegerField("every so many hours of use", null=True, blank=True)
    before_use_days = models.PositiveSmallIntegerField(
        "at most so many days before a session that uses it", null=True, blank=True
    )
    minutes = models.PositiveSmallIntegerField("how long it takes, minutes", default=60)
    takes_room = models.BooleanField("needs its room to itself", default=False)
    electrical = models.BooleanField("electrical safety inspection or test", default=False)
    starts_on = models.DateField("counted from")
    ended = models.BooleanField(default=False)

    class Meta:
        ordering = ["what", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(gear_model__isnull=False, unit__isnull=True, stock__isnull=True)
                | Q(gear_model__isnull=True, unit__isnull=False, stock__isnull=True)
                | Q(gear_model__isnull=True, unit__isnull=True, stock__isnull=False),
                name="studio_service_of_one_thing",
            ),
            models.CheckConstraint(
                condition=Q(every_days__gte=1) | Q(every_hours__gte=1) | Q(before_use_days__gte=1),
                name="studio_service_is_due_some_time",
            ),
            models.CheckConstraint(condition=Q(minutes__gte=1), name="studio_service_takes_a_while"),
        ]

    def __str__(self) -> str:
        return f"{self.what}: {self.thing}"

    @property
    def thing(self) -> GearModel | GearUnit | Stock | None:
        return self.unit or self.stock or self.gear_model


class ServiceDone(models.Model):
    """hours_used: hours of use of the unit since the time before, as its sessions count them."""

    plan = models.ForeignKey(ServicePlan, on_delete=models.CASCADE, related_name="done")
    unit = models.ForeignKey(GearUnit, on_delete=models.CASCADE, null=True, related_name="services")
    stock = models.ForeignKey(Stock, on_delete=models.CASCADE, null=True, related_name="services")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="services")
    hours_used = models.FloatField(default=0)
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(unit__isnull=True) ^ Q(stock__isnull=True),
                name="studio_service_done_to_one_thing",
            )
        ]

    def __str__(self) -> str:
        return f"{self.plan.what}: {self.unit or self.stock}"
