"""Kinds of session: what the trade calls them, and what each means for the room. A site keeps its own list."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models.functions import Lower

from studio.models import Site
from studio.models.telling import TellingManager


class SessionKind(models.Model):
    """loud: heard through walls. wants_quiet: spoilt by loud work next door."""

    class Nature(models.TextChoices):
        WORK = "work", "a session with a client"
        UPKEEP = "upkeep", "upkeep or repair by the house"
        CLOSURE = "closure", "the room is closed"

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="session_kinds")
    name = models.CharField(max_length=40)
    nature = models.CharField(max_length=8, choices=Nature, default=Nature.WORK)
    loud = models.BooleanField("loud work", default=False)
    wants_quiet = models.BooleanField("wants quiet around it", default=False)
    offered = models.BooleanField("offered for new sessions", default=True)
    order = models.PositiveSmallIntegerField(default=0)

    objects: ClassVar[models.Manager[SessionKind]] = TellingManager()

    class Meta:
        ordering = ["site", "order", "name", "pk"]
        constraints = [models.UniqueConstraint("site", Lower("name"), name="bookings_session_kind_once")]

    def __str__(self) -> str:
        return self.name


# Common practice, no single source.
USUAL_KINDS = [
    ("tracking", SessionKind.Nature.WORK, True, False),
    ("overdub", SessionKind.Nature.WORK, False, False),
    ("vocal", SessionKind.Nature.WORK, False, True),
    ("voice", SessionKind.Nature.WORK, False, True),
    ("rehearsal", SessionKind.Nature.WORK, True, False),
    ("mix", SessionKind.Nature.WORK, False, False),
    ("mastering", SessionKind.Nature.WORK, False, True),
    ("tuning or maintenance", SessionKind.Nature.UPKEEP, False, True),
    ("tour", SessionKind.Nature.WORK, False, False),
    ("closed", SessionKind.Nature.CLOSURE, False, False),
]


def offer_usual_kinds(site: Site) -> None:
    """A site begins with the trade's usual list."""
    SessionKind.objects.bulk_create(
        SessionKind(site=site, name=name, nature=nature, loud=loud, wants_quiet=quiet, order=order)
        for order, (name, nature, loud, quiet) in enumerate(USUAL_KINDS, start=1)
    )
