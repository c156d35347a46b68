"""The house's own words on instrument lists, learned from corrections."""

from __future__ import annotations

from django.db import models

from studio.models import Person


class HouseWord(models.Model):
    """What the house means by some words: the id of a source of the catalogue, or empty for no input.

    key is how the reader looks the words up, so that no two rows can mean the same ones.
    """

    words = models.CharField(max_length=60)
    key = models.CharField(max_length=120, unique=True, editable=False)
    source = models.CharField(max_length=60, blank=True)
    taught_by = models.ForeignKey(Person, on_delete=models.SET_NULL, null=True, related_name="+")
    taught_at = models.DateTimeField()

    class Meta:
        ordering = ["words", "pk"]

    def __str__(self) -> str:
        return self.words
