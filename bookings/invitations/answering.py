"""A person's answer to a call: entered by themselves, by a manager for them, or as it came by mail."""

from __future__ import annotations

from datetime import datetime

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.utils import timezone

from bookings.history import note
from bookings.invitations.rows import tell_managers
from bookings.models import Crew, Session
from studio.access import may_answer
from studio.models import Person

Answer = Crew.Answer


class NotAsked(Exception):
    """The message is a sentence that says why there is nothing to answer."""


def answer_call(by: Person, call_id: int, answer: str, because: str = "") -> str:
    """Gives what was entered, in words; SEQUENCE never rises by it (RFC 5546 section 2.1.4).

    Raises Crew.DoesNotExist, PermissionDenied and NotAsked.
    """
    with transaction.atomic():
        call = locked_call(Crew.objects.values_list("session_id", flat=True).get(pk=call_id), pk=call_id)
        if not may_answer(by, call.person):
            raise PermissionDenied("Only a manager can answer for somebody else.")
        if trouble := not_asked(call, timezone.now()):
            raise NotAsked(trouble)
        return set_answer(call, Answer(answer), timezone.now(), by, because)


def locked_call(session_id: int, **which: int) -> Crew:
    """With the row of its session held, as whoever changes the session holds it: neither overwrites the other."""
    Session.objects.select_for_update().get(pk=session_id)
    calls = Crew.objects.select_related("person", "session__room__site")
    return calls.get(session=session_id, **which)


def not_asked(call: Crew, now: datetime) -> str:
    """Why there is nothing to answer; nothing when there is."""
    title = f"“{call.session.title}”"
    if call.session.cancelled:
        return f"{title} is cancelled: no answer is needed any more."
    if call.session.is_hold:
        return f"{title} is only held: nobody is called before it is confirmed."
    if not call.assigned:
        return f"{call.person.name} is only wanted for {title}, not called yet."
    if call.until <= now:
        return f"{title} is over: an answer comes too late."
    return ""


def set_answer(
    call: Crew, answer: Crew.Answer, at: datetime, by: Person, because: str = "", came: str = ""
) -> str:
    """Of a call that is held. at: when it was given. came: by which way, like “ by e-mail”."""
    before, again = Answer(call.answer), call.answer == answer and (not because or call.answered_at == at)
    call.answer, call.answered_at = answer, at
    call.save(update_fields=["answer", "answered_at"])
    words = f"{call.person.name}: {answer.label}{came}." + (f" “{because}”" if because else "")
    if not again:
        note(call.session, by, "answered", words)
        _tell(call, before, by, because)
    return words


def _tell(call: Crew, before: Crew.Answer, by: Person, because: str) -> None:
    """Managers hear of a decline, and when it is taken back."""
    name = call.person.name
    if call.answer == Answer.DECLINED:
        why = f" “{because}”" if because else ""
        tell_managers(call, f"{name} has declined.{why}", by)
    elif before == Answer.DECLINED:
        tell_managers(call, f"{name} had declined and now says: {Answer(call.answer).label}.", by)
