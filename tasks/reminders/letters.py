"""The letters: what a reminder says, as text and as plain HTML that loads nothing from anywhere."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Any

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.urls import reverse

from bookings.models import Session
from studio.clock import say
from tasks.checklists import cautions
from tasks.models import Reminder, Task

LONGEST_SUBJECT = 150  # characters; the session's whole title stands in the letter


@dataclass(frozen=True, slots=True)
class Form:
    """What the letters of one kind have in common. subject takes room, day and title."""

    subject: str
    list_title: str
    stage: Task.Stage
    nothing: str
    cautions: tuple[str, ...]


FORMS = {
    Reminder.Kind.MORNING: Form(
        "Set up {room} for {downbeat}: {title}",
        "Setup checklist",
        Task.Stage.SETUP,
        "No setup checklist stands yet. Look at the session's page before you begin.",
        (cautions.TRIP, cautions.LIFT),
    ),
    Reminder.Kind.PHANTOM: Form(
        "Phantom check in {room} before {downbeat}: {title}",
        "Phantom check",
        Task.Stage.PHANTOM,
        "Nothing on the checklist needs phantom. See that it is off everywhere.",
        (cautions.HEARING, cautions.LIVE_PATCH),
    ),
    Reminder.Kind.BREAKDOWN: Form(
        "Breakdown in {room} from {end}: {title}",
        "Breakdown duties",
        Task.Stage.BREAKDOWN,
        "No breakdown list stands yet. Phantom off and drained, desk zeroed, then unplug; count all back.",
        (cautions.HEARING, cautions.LIVE_PATCH, cautions.LIFT),
    ),
}


def letter(reminder: Reminder) -> EmailMultiAlternatives:
    """The letter of this reminder as its session stands now, to the person's own address."""
    facts = content(reminder)
    mail = EmailMultiAlternatives(
        subject=subject(reminder),
        body=render_to_string("tasks/mail/letter.txt", facts),
        to=[reminder.person.email],
        headers={"Message-ID": reminder.message_id, "Auto-Submitted": "auto-generated"},  # RFC 3834 section 5
    )
    mail.attach_alternative(render_to_string("tasks/mail/letter.html", facts), "text/html")
    return mail


def subject(reminder: Reminder) -> str:
    session = reminder.session
    tz = session.room.site.tz
    whole = FORMS[Reminder.Kind(reminder.kind)].subject.format(
        room=session.room.name,
        downbeat=say(session.downbeat, tz),
        end=say(session.end, tz),
        title=session.title,
    )
    line = one_line(whole)
    return line if len(line) <= LONGEST_SUBJECT else line[: LONGEST_SUBJECT - 1] + "…"


def content(reminder: Reminder) -> dict[str, Any]:
    """What the templates show."""
    session = reminder.session
    form = FORMS[Reminder.Kind(reminder.kind)]
    tasks = session.tasks.filter(stage=form.stage).select_related("assignee").order_by("order", "pk")
    return {
        "form": form,
        "person": reminder.person,
        "title": one_line(session.title),
        "held": session.status == Session.Status.HELD,
        "facts": facts_of(reminder),
        "zone": session.room.site.zone,
        "rows": [row_of(task, reminder.person_id) for task in tasks],
        "minutes": sum(task.minutes for task in tasks),
        "address": settings.SITE_ADDRESS + reverse("tasks:my_day"),
    }


def facts_of(reminder: Reminder) -> list[tuple[str, str]]:
    """Pairs of word and value: where, and when on the clock of the site."""
    session = reminder.session
    tz = session.room.site.tz
    call = session.crew.get(person=reminder.person_id)
    return [
        ("Room", f"{session.room.name}, {session.room.site}"),
        ("Your call", with_zone(call.call_at, tz)),
        ("Load-in", with_zone(session.load_in, tz)),
        ("Downbeat", with_zone(session.downbeat, tz)),
        ("End", with_zone(session.end, tz)),
    ]


def row_of(task: Task, person_id: int) -> dict[str, Any]:
    """One line of the checklist as the letter shows it."""
    return {
        "title": one_line(task.title),
        "minutes": task.minutes,
        "who": "you" if task.assignee_id == person_id else str(task.assignee or "nobody yet"),
        "details": [(word, value) for word, value in task.details],
        "caution": one_line(task.caution),
        "done": task.done_at is not None,
    }


def with_zone(instant: datetime, tz: tzinfo) -> str:
    """Like “Thu 4 March, 16:40 CET”: the hour that a change of the clocks repeats is told apart."""
    return f"{say(instant, tz)} {instant.astimezone(tz):%Z}"


def one_line(text: str) -> str:
    """Without line breaks and control characters (Unicode categories C and Z but the blank)."""
    plain = "".join(" " if unicodedata.category(each)[0] in "CZ" else each for each in text)
    return " ".join(plain.split())
