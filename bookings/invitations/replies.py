"""Answers that came by mail or as a file: checked, entered, and told what became of them. Nothing is trusted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from bookings.calendar.entries import session_uid
from bookings.history import note
from bookings.invitations.answering import locked_call, not_asked, set_answer
from bookings.invitations.reading import NoAnswer, Reply, read
from bookings.invitations.rows import letters_of, oldest_answered, tell_managers
from bookings.models import Crew, Session
from studio.clock import say

Answer = Crew.Answer
ANSWERS = {"ACCEPTED": Answer.ACCEPTED, "TENTATIVE": Answer.TENTATIVE, "DECLINED": Answer.DECLINED}
SAYS_NOTHING = {"NEEDS-ACTION": "hasn't decided yet"}


@dataclass(frozen=True, slots=True)
class Told:
    """What became of one answer; taken says whether it stands entered now."""

    taken: bool
    words: str


class Refused(Exception):
    """Why an answer doesn't count, in a sentence."""


def take(data: bytes) -> list[Told]:
    """All answers in an e-mail or a calendar file. The writer of an e-mail has to be the one who answers."""
    try:
        letter = read(data)
    except NoAnswer as trouble:
        return [Told(False, str(trouble))]
    return [enter(reply, letter.sender) for reply in letter.replies]


def enter(reply: Reply, sender: str | None) -> Told:
    """One answer, if it is what it says it is. sender None: somebody of the house has brought it as a file."""
    with transaction.atomic():
        try:
            call = _call(reply)
            _require_sender(reply, sender, call)
            return _entered(reply, call, timezone.now(), ", by a file" if sender is None else " by e-mail")
        except Refused as why:
            return Told(False, str(why))


def _call(reply: Reply) -> Crew:
    """The call that it answers, held."""
    session = _session(reply.uid)
    if session is None:
        raise Refused("The answer is about nothing that this house has sent.")
    named = session.crew.select_related("person").exclude(person__email="")
    calls = [call for call in named if call.person.email.casefold() == reply.address.casefold()]
    if not calls:
        raise Refused(f"{_short(reply.address)} isn't called to “{session.title}” (any more).")
    try:
        return locked_call(session.pk, pk=calls[0].pk)
    except Crew.DoesNotExist:
        raise Refused(f"{calls[0].person.name} isn't called to “{session.title}” any more.") from None


def _session(uid: str) -> Session | None:
    try:
        found = Session.objects.filter(uid=UUID(uid.partition("@")[0].strip())).first()
    except ValueError:
        return None
    return found if found and session_uid(found.uid) == uid.strip().lower() else None


def _require_sender(reply: Reply, sender: str | None, call: Crew) -> None:
    """RFC 5546 section 6.1.1: whoever writes in somebody's name has to be that one, or be named as writing for them."""
    if sender is None:
        return
    if sender.casefold() not in {call.person.email.casefold(), reply.sent_by.casefold()} - {""}:
        raise Refused(
            f"An answer in the name of {call.person.name} came from another address, {_short(sender) or 'none'}: "
            "nothing was changed. If it is theirs, enter it by hand."
        )


def _entered(reply: Reply, call: Crew, now: datetime, came: str) -> Told:
    title, name = f"“{call.session.title}”", call.person.name
    if why := not_asked(call, now):
        raise Refused(why)
    _require_present(reply, call)
    if reply.method == "COUNTER" or reply.partstat == "DELEGATED":
        return _wants_otherwise(reply, call)
    if reply.partstat not in ANSWERS:
        said = SAYS_NOTHING.get(
            reply.partstat, f"has answered {_short(reply.partstat)}, which says nothing here"
        )
        raise Refused(f"{name} {said}, about {title}: nothing was changed.")
    at, before = min(reply.stamp or now, now), call.answered_at
    if before and at < before.replace(microsecond=0):
        raise Refused(f"{name} has answered later than that already, about {title}: the later answer stands.")
    return Told(True, set_answer(call, ANSWERS[reply.partstat], at, call.person, reply.comment, came))


def _require_present(reply: Reply, call: Crew) -> None:
    """An answer to an old time doesn't count (RFC 5546 section 2.1.5), and everybody can read that it came."""
    title, name = f"“{call.session.title}”", call.person.name
    lowest = oldest_answered(letters_of(call.session).get(call.person_id, []))
    if lowest is None:
        raise Refused(f"{name} wasn't invited to {title} by mail.")
    if reply.sequence > call.session.sequence:
        raise Refused(f"{name} answers to an invitation to {title} that was never sent.")
    if reply.sequence < lowest:
        said = ANSWERS[reply.partstat].label if reply.partstat in ANSWERS else "something"
        note(call.session, call.person, "old answer", f"{name}: {said}, to an older time. It doesn't count.")
        raise Refused(f"{name} has answered to an older time of {title}: that doesn't count for the new one.")


def _wants_otherwise(reply: Reply, call: Crew) -> Told:
    """Somebody else, or another time: for people to talk about. The managers hear of it."""
    tz = call.session.room.site.tz
    if reply.method == "COUNTER":
        when = f": from {say(reply.start, tz)}" if reply.start else ""
        words = f"{call.person.name} proposes another time{when}."
    else:
        whom = f", {reply.delegated_to}" if reply.delegated_to else ""
        words = f"{call.person.name} wants to send somebody else{whom}."
    words += f" “{reply.comment}”" if reply.comment else ""
    note(call.session, call.person, "proposed", words)
    tell_managers(call, f"{words} Nothing was changed.")
    return Told(False, f"{words} Nothing was changed: talk to them. It is about “{call.session.title}”.")


def _short(text: str) -> str:
    return text[:80]
