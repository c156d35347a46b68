"""The house's own jobs: upkeep and closures need no client. Made when the first is booked."""

from __future__ import annotations

from django.db import transaction

from bookings.models import Client, Job, SessionKind

NAME = "The house"
TITLES = {SessionKind.Nature.UPKEEP: "Upkeep", SessionKind.Nature.CLOSURE: "Closures"}


def house_job(nature: str) -> Job:
    """The job that upkeep or closures are booked on."""
    title = TITLES[SessionKind.Nature(nature)]
    with transaction.atomic():
        house = Client.objects.select_for_update().filter(is_house=True).first() or _new_house()
        job = Job.objects.filter(client=house, title=title, closed_at=None).order_by("pk").first()
        return job or Job.objects.create(client=house, title=title)


def _new_house() -> Client:
    taken = Client.objects.filter(name=NAME).exists()
    return Client.objects.create(name=f"{NAME} (own work)" if taken else NAME, is_house=True)
