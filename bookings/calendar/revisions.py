"""What calendars are told of changes: each site counts its own (Site.revision), and names count apart (epoch).

Sessions change under the lock of their site's ladder, which counts by itself (bookings.ladder.lock_ladder).
"""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import F
from django.db.models.signals import m2m_changed, post_delete, post_save, pre_save
from django.dispatch import receiver

from bookings.models import Client, Job, SessionKind
from studio.models import Person, RoleHeld, Room, Site
from studio.signals import changed_at_once

SHOWN: dict[type[models.Model], tuple[str, ...]] = {
    Client: ("name",),
    Job: ("title", "client_id"),
    SessionKind: ("name", "nature"),
    Person: ("name", "site_id", "freelance"),
    Room: ("name", "site_id"),
    Site: ("name", "zone"),
}
"""What calendars show of each, or what decides how much they show. What is new stands in no calendar yet."""


def count_names() -> None:
    """In the order of lock_ladder, so that nobody waits for each other in a ring."""
    for pk in Site.objects.order_by("pk").values_list("pk", flat=True):
        Site.objects.filter(pk=pk).update(revision=F("revision") + 1, epoch=F("epoch") + 1)


@receiver(pre_save, dispatch_uid="bookings.see_renaming")
def see_renaming(sender: type[models.Model], instance: models.Model, **kwargs: Any) -> None:
    names = SHOWN.get(sender)
    if names and not instance._state.adding:
        before = sender._base_manager.filter(pk=instance.pk).values_list(*names).first()
        instance._renamed = before != tuple(getattr(instance, name) for name in names)  # type: ignore[attr-defined]


@receiver(post_save, dispatch_uid="bookings.count_renaming")
def count_renaming(sender: type[models.Model], instance: models.Model, **kwargs: Any) -> None:
    """Only when it is saved: counted before, a calendar built in between would pass for the newer one."""
    if sender is RoleHeld or instance.__dict__.pop("_renamed", False):
        count_names()


@receiver(changed_at_once, dispatch_uid="bookings.count_renaming_at_once")
def count_renaming_at_once(sender: type[models.Model], fields: frozenset[str], **kwargs: Any) -> None:
    if any(name in fields or name.removesuffix("_id") in fields for name in SHOWN.get(sender, ())):
        count_names()


@receiver(post_delete, sender=RoleHeld, dispatch_uid="bookings.count_lost_role")
def count_lost_role(sender: type[RoleHeld], **kwargs: Any) -> None:
    count_names()


@receiver(m2m_changed, sender=Room.parts.through, dispatch_uid="bookings.count_parts")
def count_parts(sender: Any, action: str, **kwargs: Any) -> None:
    """A session in a room stands in the calendars of its parts."""
    if action.startswith("post_"):
        count_names()
