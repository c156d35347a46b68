"""Gear lists that people bring: the file, what they confirmed of it, and which headings are known by now."""

from __future__ import annotations

from django.db import models

from studio.models.people import Person


class HeadingMatch(models.Model):
    """What a heading of somebody's list means, confirmed once. heading is folded; sort: inventory or log."""

    heading = models.CharField(max_length=120)
    sort = models.CharField(max_length=10)
    field = models.CharField(max_length=20)
    confirmed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    confirmed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["heading", "sort"]
        constraints = [models.UniqueConstraint(fields=["heading", "sort"], name="studio_heading_match_once")]

    def __str__(self) -> str:
        return f"{self.heading}: {self.field}"


class GearList(models.Model):
    """A file on its way in. columns: index to field, as confirmed; answers: by question key; outcome: what was done."""

    name = models.CharField(max_length=200)
    content = models.BinaryField()
    brought_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="gear_lists")
    brought_at = models.DateTimeField(auto_now_add=True)
    columns = models.JSONField(default=dict)
    answers = models.JSONField(default=dict)
    applied_at = models.DateTimeField(null=True, blank=True)
    outcome = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["-brought_at", "-pk"]

    def __str__(self) -> str:
        return self.name
