"""Keeping a site's list of kinds: a kind that is in use is withdrawn, never deleted."""

from __future__ import annotations

from django.db import transaction
from django.db.models import Count

from bookings.models import Session, SessionKind
from studio.access import Act, require
from studio.models import Person, Site


class InUse(Exception):
    """A kind that sessions have: `sessions` says how many."""

    def __init__(self, sessions: int) -> None:
        super().__init__(f"{sessions} sessions are of this kind")
        self.sessions = sessions


def lists() -> list[tuple[Site, list[SessionKind]]]:
    """Each site with its kinds in order, each with `used`, the number of its sessions. Two queries."""
    kinds: dict[int, list[SessionKind]] = {}
    for kind in SessionKind.objects.annotate(used=Count("sessions")).order_by("order", "name"):
        kinds.setdefault(kind.site_id, []).append(kind)
    return [(site, kinds.get(site.pk, [])) for site in Site.objects.order_by("name")]


def offer(by: Person, kind: SessionKind, offered: bool) -> None:
    """Offer it for new sessions, or withdraw it; sessions that have it keep it."""
    require(by, Act.SET_UP_HOUSE)
    SessionKind.objects.filter(pk=kind.pk).update(offered=offered)


def delete(by: Person, kind: SessionKind) -> None:
    """Raises InUse when any session, past or cancelled ones too, is of this kind."""
    require(by, Act.SET_UP_HOUSE)
    with transaction.atomic():
        SessionKind.objects.select_for_update().get(pk=kind.pk)
        if used := Session.objects.filter(kind=kind).count():
            raise InUse(used)
        SessionKind.objects.filter(pk=kind.pk).delete()
