"""Telling those who work a session that its inputs are other than they were, once for each new plan."""

from __future__ import annotations

from django.urls import reverse
from django.utils import timezone

from bookings.models import Session
from studio.clock import say
from studio.models import Person, Role
from studio.notices import tell
from tasks.models import PapersSeen, Plan
from tasks.wanted import SOON

MOST_LINES = 12


def tell_changes(session: Session, plan: Plan, changes: list[str], by: Person | None = None) -> None:
    """Engineers and assistants who have seen the papers, or who work there within two days; but whoever did it."""
    if not changes or session.end <= timezone.now():
        return
    tz = session.room.site.tz
    left_out = len(changes) - MOST_LINES
    more = [f"{left_out} more are on the page."] if left_out > 0 else []
    text = "\n".join(
        [*changes[:MOST_LINES], *more, f"{session.room.name}, downbeat {say(session.downbeat, tz)}."]
    )
    for person in _concerned(session):
        if person != by:
            tell(
                person,
                f"{session.uid.hex}.plan.{plan.pk}.{person.pk}",
                f"Inputs changed for {say(session.downbeat, tz)}: {session.title}",
                text,
                session.clear_at,
                reverse("tasks:inputs", args=[session.pk]),
            )


def _concerned(session: Session) -> list[Person]:
    called = Person.objects.filter(
        calls__session=session, calls__role__in=[Role.ENGINEER, Role.ASSISTANT], is_active=True
    )
    if session.setup_at - timezone.now() > SOON:
        called = called.filter(pk__in=PapersSeen.objects.filter(session=session).values("person"))
    return list(called.order_by("pk").distinct())
