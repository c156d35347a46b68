"""Faults: what is wrong with a unit or one channel of it, since when, and when it is expected back."""

from __future__ import annotations

from django.contrib.contenttypes.fields import GenericRelation
from django.contrib.contenttypes.models import ContentType
from django.db import models
from django.db.models import Case, Q, When
from django.utils import timezone

from studio.models.claims import Claim
from studio.models.gear import Channel, GearUnit
from studio.models.people import Person
from studio.spans import Span

IS_MISSING = " is missing"


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
    """An open fault with no expected_back has no known end. Only what is out of use is claimed.

    suspect_with: the fault that the same trouble was first reported as, where several things are suspected; each is
    cleared by itself. What befell it stands in its events, of which its own fields are the latest.
    """

    class Effect(models.TextChoices):
        DEAD = "dead", "does not work at all"
        NO_PHANTOM = "no_phantom", "no phantom"
        NOISY = "noisy", "noisy"
        PAD_STUCK = "pad_stuck", "pad or switch stuck"
        CRACKLES = "crackles", "crackles now and then"
        PATTERN = "pattern", "one pattern is dead"
        MISSING = "missing", "not where it should be"
        OTHER = "other", "something else"

    class Severity(models.TextChoices):
        OUT = "out", "out of use"
        LIMITED = "limited", "usable with a limit"
        SUSPECTED = "suspected", "suspected, watch it"

    class Step(models.TextChoices):
        REPORTED = "reported", "reported"
        LOOKED_AT = "looked_at", "looked at"
        ON_BENCH = "on_bench", "on the bench"
        AWAY = "away", "away for repair"
        PARTS = "parts", "waiting for parts"
        UNHEARD = "unheard", "back, not yet heard"
        MENDED = "mended", "mended"

    class Often(models.TextChoices):
        UNKNOWN = "", "not known"
        ALWAYS = "always", "always"
        SOMETIMES = "sometimes", "sometimes"

    unit = models.ForeignKey(GearUnit, on_delete=models.CASCADE, related_name="faults")
    channel = models.ForeignKey(
        Channel, on_delete=models.CASCADE, related_name="faults", null=True, blank=True
    )
    effect = models.CharField(max_length=10, choices=Effect)
    severity = models.CharField(max_length=10, choices=Severity)
    step = models.CharField(max_length=10, choices=Step, default=Step.REPORTED)
    words = models.CharField("what it did", max_length=300, blank=True)
    above_gain_db = models.FloatField("only above this gain, dB", null=True, blank=True)
    pattern = models.CharField("which pattern", max_length=20, blank=True)
    often = models.CharField("how often", max_length=9, choices=Often, blank=True, default=Often.UNKNOWN)
    joined_to = models.CharField("what it was joined to", max_length=200, blank=True)
    cured_by = models.CharField("what cured it for now", max_length=200, blank=True)
    usable_today = models.BooleanField("usable for the rest of that day", null=True, blank=True)
    workaround = models.CharField(max_length=200, blank=True)
    workaround_until = models.DateTimeField(null=True, blank=True)
    suspect_with = models.ForeignKey(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="other_suspects"
    )
    reproduced = models.BooleanField("seen again on the bench", null=True, blank=True)
    sent_to = models.CharField(max_length=120, blank=True)
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
        ordering = ["-since", "-pk"]
        indexes = [
            models.Index(
                fields=["unit"], condition=Q(closed_at__isnull=True), name="studio_fault_open_of_unit"
            )
        ]

    def __str__(self) -> str:
        return f"{self.channel or self.unit}: {self.words or self.get_effect_display()}"

    @property
    def part_missing(self) -> str:
        """“case is missing” where a part of the unit isn't there; empty where that is the unit itself."""
        if self.effect != self.Effect.MISSING or not self.words.endswith(IS_MISSING):
            return ""
        named = self.words.removesuffix(IS_MISSING)
        return self.words if any(part.name == named for part in self.unit.parts.all()) else ""


class FaultEvent(models.Model):
    """One thing that befell a fault at an instant, with how it stood from then on. Never changed, never deleted.

    minutes, cost and parts are what this one step took.
    """

    class Kind(models.TextChoices):
        REPORTED = "reported", "reported"
        SEEN_AGAIN = "seen_again", "seen again"
        JUDGED = "judged", "judged"
        STEP = "step", "went a step on"
        RETURN_DATE = "return_date", "return date"
        NOTE = "note", "note"
        CLEARED = "cleared", "cleared of suspicion"
        CLOSED = "closed", "closed"

    fault = models.ForeignKey(Fault, on_delete=models.CASCADE, related_name="events")
    kind = models.CharField(max_length=12, choices=Kind)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="fault_events")
    severity = models.CharField(max_length=10, choices=Fault.Severity)
    step = models.CharField(max_length=10, choices=Fault.Step)
    expected_back = models.DateTimeField(null=True, blank=True)
    closed = models.BooleanField(default=False)
    note = models.CharField(max_length=1000, blank=True)
    minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    cost = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True)
    parts = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.fault}: {self.get_kind_display()}"


class GivenUp(models.Model):
    """A booking that had to give a unit up to a repair: it still wants it, though it claims it no longer."""

    fault = models.ForeignKey(Fault, on_delete=models.CASCADE, related_name="given_up")
    origin_type = models.ForeignKey(ContentType, on_delete=models.CASCADE)
    origin_id = models.PositiveBigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["fault", "origin_type", "origin_id"], name="studio_given_up_once")
        ]

    def __str__(self) -> str:
        return f"{self.fault}: given up by {self.origin_type} {self.origin_id}"


class Photo(models.Model):
    """A picture of a unit or of what is wrong with it, without what the camera wrote into it."""

    unit = models.ForeignKey(GearUnit, on_delete=models.CASCADE, related_name="photos")
    fault = models.ForeignKey(Fault, on_delete=models.SET_NULL, null=True, blank=True, related_name="photos")
    image = models.ImageField(upload_to="photos/%Y/%m", width_field="width", height_field="height")
    width = models.PositiveIntegerField(editable=False)
    height = models.PositiveIntegerField(editable=False)
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="photos")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.unit}, {self.at:%Y-%m-%d}"
