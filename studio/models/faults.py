"""Faults: what is wrong with a unit or one channel of it, since when, and when it is expected back."""

from __future__ import annotations

from django.contrib.contenttypes.fields import GenericRelation
from django.db import models
from django.db.models import Case, Q, When
from django.utils import timezone

from studio.models.claims import Claim
from studio.models.gear import Channel, GearUnit
from studio.models.people import Person
from studio.spans import Span


class FaultQuerySet(models.QuerySet["Fault"]):
    def open(self) -> FaultQuerySet:
        return self.filter(closed_at__isnull=True)

    def during(self, span: Span) -> FaultQuerySet:
        """Faults that touch the span, as far as known: until closed, else until a return that is still ahead.

        A unit that was expected back and isn't is out until somebody says more.
        """
        ahead = Q(closed_at__isnull=True, expected_back__gt=timezone.now())
        until = Case(When(closed_at__isnull=False, then="closed_at"), When(ahead, then="expected_back"))
        found = self.annotate(until=until).filter(Q(until__isnull=True) | Q(until__gt=span.start))
        return found if span.end is None else found.filter(since__lt=span.end)


class Fault(models.Model):
    """An open fault with no expected_back has no known end. Only what is out of use is claimed."""

    class Effect(models.TextChoices):
        DEAD = "dead", "does not work at all"
        NO_PHANTOM = "no_phantom", "no phantom"
        NOISY = "noisy", "noisy"
        PAD_STUCK = "pad_stuck", "pad or switch stuck"
        CRACKLES = "crackles", "crackles now and then"
        OTHER = "other", "something else"

    class Severity(models.TextChoices):
        OUT = "out", "out of use"
        LIMITED = "limited", "usable with a limit"
        SUSPECTED = "suspected", "suspected, watch it"

    class Step(models.TextChoices):
        REPORTED = "reported", "reported"
        ON_BENCH = "on_bench", "on the bench"
        AWAY = "away", "away for repair"
        MENDED = "mended", "mended"

    unit = models.ForeignKey(GearUnit, on_delete=models.CASCADE, related_name="faults")
    channel = models.ForeignKey(
        Channel, on_delete=models.CASCADE, related_name="faults", null=True, blank=True
    )
    effect = models.CharField(max_length=10, choices=Effect)
    severity = models.CharField(max_length=10, choices=Severity)
    step = models.CharField(max_length=10, choices=Step, default=Step.REPORTED)
    words = models.CharField("what it did", max_length=300, blank=True)
    since = models.DateTimeField()
    expected_back = models.DateTimeField(null=True, blank=True)
    reported_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="faults_reported", null=True
    )
    reported_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    outcome = models.CharField(max_length=200, blank=True)
    claims = GenericRelation(Claim, content_type_field="origin_type", object_id_field="origin_id")

    objects = FaultQuerySet.as_manager()

    class Meta:
        ordering = ["-since"]
        indexes = [
            models.Index(
                fields=["unit"], condition=Q(closed_at__isnull=True), name="studio_fault_open_of_unit"
            )
        ]

    def __str__(self) -> str:
        return f"{self.channel or self.unit}: {self.words or self.get_effect_display()}"
