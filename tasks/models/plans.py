"""The input list as planned: what each source gets and why, and what could not be met."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from bookings.models import Session
from studio.models import Channel, GearUnit


class Plan(models.Model):
    """One plan a session, made anew when the session or the gear changes. Times in UTC, solver in seconds.

    questions counts what of the list was not understood; stale is set when something that the plan stands on
    has changed since: the next tick plans again. changes: what is other than in the plan before, which was made at
    changed_since. weighed: it has been looked at together with the sessions of the same hours; gave_way: what they
    have that this one would have had by itself.
    """

    session = models.OneToOneField(Session, on_delete=models.CASCADE, related_name="plan")
    made_at = models.DateTimeField()
    list_text = models.TextField(blank=True)
    status = models.CharField(max_length=20)
    objective = models.FloatField(default=0)
    bound = models.FloatField(default=0)
    seconds = models.FloatField(default=0)
    questions = models.PositiveSmallIntegerField(default=0)
    stale = models.BooleanField(default=False)
    changes = models.JSONField(default=list)
    changed_since = models.DateTimeField(null=True)
    weighed = models.BooleanField(default=False)
    gave_way = models.JSONField(default=list)

    def __str__(self) -> str:
        return f"Input list of {self.session}"


class PlannedInput(models.Model):
    """gain_db: where to begin, None where a figure is missing; gain_said: how that was worked out.

    high_pass_hz is 0 for none. stand, cable: names of counted stock. patched: it goes through a patch point.
    """

    class Pickup(models.TextChoices):
        MIC = "mic", "microphone"
        DI = "di", "DI"
        LINE = "line", "line"

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="inputs")
    number = models.PositiveSmallIntegerField()
    label = models.CharField(max_length=120)
    source = models.CharField(max_length=60)
    pickup = models.CharField(max_length=4, choices=Pickup)
    unit = models.ForeignKey(GearUnit, on_delete=models.PROTECT, null=True, related_name="planned")
    unit_input = models.PositiveSmallIntegerField(null=True)
    preamp_channel = models.ForeignKey(Channel, on_delete=models.PROTECT, null=True, related_name="planned")
    phantom = models.BooleanField(default=False)
    pad = models.BooleanField(default=False)
    gain_db = models.FloatField(null=True)
    gain_said = models.JSONField(default=list)
    high_pass_hz = models.FloatField(default=0)
    stand = models.CharField(max_length=80, blank=True)
    cable = models.CharField(max_length=80, blank=True)
    patched = models.BooleanField(default=False)
    line = models.PositiveSmallIntegerField()
    recorder_input = models.PositiveSmallIntegerField()
    why = models.JSONField(default=list)

    class Meta:
        ordering = ["number", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "number"], name="tasks_input_number_once"),
            models.UniqueConstraint(fields=["plan", "line"], name="tasks_line_once"),
            models.UniqueConstraint(fields=["plan", "recorder_input"], name="tasks_recorder_input_once"),
            models.UniqueConstraint(
                fields=["plan", "preamp_channel"],
                condition=Q(preamp_channel__isnull=False),
                name="tasks_preamp_channel_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.label}"


class UnfilledNeed(models.Model):
    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="unfilled")
    number = models.PositiveSmallIntegerField()
    label = models.CharField(max_length=120)
    source = models.CharField(max_length=60)
    reason = models.TextField()
    help = models.JSONField(default=list)

    class Meta:
        ordering = ["number", "pk"]

    def __str__(self) -> str:
        return f"{self.label}: {self.reason}"
