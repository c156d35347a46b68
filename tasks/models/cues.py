"""Who hears which mix on which headphones, and what somebody has chosen by hand."""

from __future__ import annotations

from django.db import models

from bookings.models import Session
from studio.models import Channel, GearUnit, Person
from tasks.models.plans import Plan


class CueChoice(models.Model):
    """What a player of a session is to hear; it is kept by later plans. mix is empty for as planned."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="cue_choices")
    player = models.CharField(max_length=120)
    mix = models.CharField(max_length=40, blank=True)
    wears = models.BooleanField(default=True)
    by = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["player", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["session", "player"], name="tasks_cue_choice_once"),
        ]

    def __str__(self) -> str:
        return f"{self.player}: {self.mix or 'as planned'}"


class CuePlace(models.Model):
    """One player's headphones as planned. output and headphones are None where none is free, or none is wanted.

    mix is empty for a player without headphones; why says the reason, or what is missing.
    """

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="cues")
    order = models.PositiveSmallIntegerField()
    player = models.CharField(max_length=120)
    mix = models.CharField(max_length=40, blank=True)
    output = models.ForeignKey(Channel, on_delete=models.PROTECT, null=True, related_name="cue_places")
    headphones = models.ForeignKey(GearUnit, on_delete=models.PROTECT, null=True, related_name="cue_places")
    why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["order", "pk"]
        constraints = [models.UniqueConstraint(fields=["plan", "order"], name="tasks_cue_place_once")]

    def __str__(self) -> str:
        return f"{self.player}: {self.mix or 'no headphones'}"
