"""Who books what in the tests of bookings."""

from __future__ import annotations

from typing import Any

from django.test import Client as Browser

from bookings.booking import Called, Draft, book
from bookings.models import Client, Job, Session
from studio.models import Person, Role, Room
from tests.house import at, make_person, make_room

DAY = "2027-03-04"


def make_job(client: str = "Tin Harbour", title: str = "Quartet and harmonium", **fields: Any) -> Job:
    return Job.objects.create(client=Client.objects.get_or_create(name=client)[0], title=title, **fields)


def make_draft(room: Room, load_in: str, end: str, downbeat: str = "", **fields: Any) -> Draft:
    """Times as “10:00” on DAY or as “2027-03-05 01:00”, in the zone of the room's site."""
    values: dict[str, Any] = {"title": "Quartet", "setup_minutes": 0, "turnaround_minutes": 0, **fields}
    values["crew"] = tuple(values.pop("crew", ()))
    if "job_id" not in values:
        values["job_id"] = (Job.objects.first() or make_job()).pk
    tz = room.site.tz
    moments = [
        at(wall if len(wall) > 5 else f"{DAY} {wall}", tz) for wall in (load_in, downbeat or load_in, end)
    ]
    return Draft(room=room, load_in=moments[0], downbeat=moments[1], end=moments[2], **values)


def manager() -> Person:
    return Person.objects.filter(roles_held__role=Role.MANAGER).first() or make_person(
        Role.MANAGER, name="Mara"
    )


def make_session(
    room: Room | None = None, load_in: str = "10:00", end: str = "18:00", **fields: Any
) -> Session:
    return book(manager(), make_draft(room or make_room(), load_in, end, **fields))


def called(person: Person, role: str = Role.ENGINEER) -> Called:
    return Called(person.pk, role)


def browser_of(person: Person, **options: Any) -> Browser:
    browser = Browser(**options)
    browser.force_login(person)
    return browser
