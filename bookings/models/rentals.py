"""What is hired in for a session: wanted, but not owned."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from bookings.models.sessions import Session
from studio.models import GearUnit


class Rental(models.Model):
    """ordered_at, arrived_at and returned_at say how far it has come; cost is for the whole hire.

    unit is what the house enters it as, if it does: then it can be planned with, between arrival and return only.
    """

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="rentals")
    what = models.CharField(max_length=120)
    unit = models.OneToOneField(
        GearUnit, on_delete=models.SET_NULL, null=True, blank=True, related_name="rental"
    )
    supplier = models.CharField(max_length=120, blank=True)
    cost = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    currency = models.CharField(max_length=3, default="EUR", help_text="ISO 4217 code")
    arrives_at = models.DateTimeField()
    back_at = models.DateTimeField()
    ordered_at = models.DateTimeField(null=True, blank=True)
    arrived_at = models.DateTimeField(null=True, blank=True)
    returned_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["arrives_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(back_at__gt=F("arrives_at")), name="bookings_rental_in_order"),
            models.CheckConstraint(
                condition=Q(cost__isnull=True) | Q(cost__gte=0), name="bookings_rental_cost_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return self.what
