"""What calendars are told of changes: each site counts its own (Site.revision), and names count apart (epoch).

Sessions change under the lock of their site's ladder, which counts by itself (bookings.ladder.lock_ladder).
"""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import F
from django.db.models.signals import post_delete, post_save
from django.dispatch import receiver

from bookings.models import Client, Job, SessionKind
from studio.models import GearUnit, Person, RoleHeld, Room, Site

NAMED = (Client, Job, SessionKind, GearUnit, Person, Room)
QUIET = {"last_login", "password"}


def count_names() -> None:
    """In the order of lock_ladder, so that nobody waits for each other in a ring."""
    for pk in Site.objects.order_by("pk").values_list("pk", flat=True):
        Site.objects.filter(pk=pk).update(revision=F("revision") + 1, epoch=F("epoch") + 1)


@receiver(post_save, dispatch_uid="bookings.count_names")
def renamed(
    sender: type[models.Model], created: bool = False, update_fields: Any = None, **kwargs: Any
) -> None:
    """What is new stands in no calendar yet; what is renamed may stand in many."""
    may_be_shown = sender is RoleHeld or (not created and sender in (*NAMED, Site))
    if may_be_shown and (update_fields is None or not set(update_fields) <= QUIET):
        count_names()


@receiver(post_delete, sender=RoleHeld, dispatch_uid="bookings.count_roles")
def lost_a_role(sender: type[RoleHeld], **kwargs: Any) -> None:
    count_names()
