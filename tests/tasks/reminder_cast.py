"""What the tests of reminders need beside the small house: a session, its assistants and its tasks."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from bookings.models import Client, Crew, Job, Session
from studio.models import Person, Role, Room
from tasks.models import Reminder, Task
from tests.house import make_person


def make_assistant(name: str, **fields: Any) -> Person:
    return make_person(Role.ASSISTANT, name=name, **{"email": f"{name.lower()}@example.org", **fields})


def make_session(room: Room, downbeat: datetime, *assistants: Person, **fields: Any) -> Session:
    """Setup and calls two hours before downbeat, load-in one; eight hours long, one more until clear."""
    client, _ = Client.objects.get_or_create(name="Nine Sparrows")
    job, _ = Job.objects.get_or_create(client=client, title="First record")
    session = Session.objects.create(
        **{
            "job": job,
            "room": room,
            "title": "Morning songs",
            "setup_at": downbeat - timedelta(hours=2),
            "load_in": downbeat - timedelta(hours=1),
            "downbeat": downbeat,
            "end": downbeat + timedelta(hours=8),
            "clear_at": downbeat + timedelta(hours=9),
            "made_at": timezone.now(),
            "changed_at": timezone.now(),
            **fields,
        }
    )
    for person in assistants:
        call(session, person)
    return session


def call(session: Session, person: Person) -> Crew:
    return Crew.objects.create(
        session=session,
        person=person,
        role=Role.ASSISTANT,
        call_at=session.setup_at,
        until=session.clear_at,
    )


def move(session: Session, by: timedelta) -> None:
    """Session and calls later (or earlier), as a booking would write it."""
    for name in ("setup_at", "load_in", "downbeat", "end", "clear_at"):
        setattr(session, name, getattr(session, name) + by)
    session.save()
    for each in session.crew.all():
        each.call_at, each.until = each.call_at + by, each.until + by
        each.save()


def make_task(session: Session, stage: Task.Stage, order: int, title: str, minutes: int, **more: Any) -> Task:
    return Task.objects.create(
        session=session,
        key=f"{stage}-{order}",
        stage=stage,
        order=order,
        title=title,
        minutes=minutes,
        **more,
    )


def rows(session: Session, kind: str = Reminder.Kind.MORNING) -> list[Reminder]:
    return list(session.reminders.filter(kind=kind).order_by("pk"))
