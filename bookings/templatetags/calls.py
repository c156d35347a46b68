"""Calls and their answers on pages: who is on a session, and what somebody has still to answer."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils import timezone

from bookings.invitations.lines import call_lines, line_of, to_answer
from bookings.models import Crew, Session
from studio.models import Person

register = template.Library()


@register.inclusion_tag("bookings/invitations/people.html", takes_context=True)
def people_on(context: template.Context, session: Session) -> dict[str, Any]:
    """Everybody on a session made `with_all()`, with role, hour and answer."""
    lines = call_lines(session, context["user"], timezone.now())
    return {**_shared(context), "lines": lines, "session": session, "tz": session.room.site.tz}


@register.inclusion_tag("bookings/invitations/unanswered.html", takes_context=True)
def unanswered(context: template.Context, person: Person, shown: Crew | None = None) -> dict[str, Any]:
    """The calls ahead that wait for this person's answer, but the one shown elsewhere; nothing for none."""
    now = timezone.now()
    lines = [line_of(call, context["user"], now) for call in to_answer(person, now) if call != shown]
    return {**_shared(context), "lines": lines, "person": person, "own": person == context["user"]}


@register.inclusion_tag("bookings/invitations/answer.html", takes_context=True)
def answer_to(context: template.Context, call: Crew) -> dict[str, Any]:
    """The answer to one call, and the presses for whoever may give it."""
    return {**_shared(context), "line": line_of(call, context["user"], timezone.now())}


def _shared(context: template.Context) -> dict[str, Any]:
    return {"back": context["request"].get_full_path(), "csrf_token": context.get("csrf_token")}
