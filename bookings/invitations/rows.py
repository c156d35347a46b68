"""Invitations as rows, written in the transaction of the change that they tell of."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta
from email.utils import parseaddr

from django.conf import settings
from django.dispatch import receiver
from django.utils import timezone

from bookings.calendar.entries import session_uid
from bookings.invitations.message import Call, Party, asked_for, called_off, facts, request
from bookings.models import CallLetter, Crew, Session
from bookings.signals import session_changed
from bookings.words import hours_of
from studio.clock import say, say_span
from studio.models import Person, Role
from studio.post import message_id

Kind, State = CallLetter.Kind, CallLetter.State
A_MOMENT = timedelta(minutes=2)  # a slip that is put right at once goes out once
SERIES_AHEAD = timedelta(days=28)  # a year of Tuesdays isn't fifty letters on one day
GONE = (State.DROPPED, State.FAILED, State.MISSED)  # rows that have told nobody anything
TOLD = (State.SENT, State.SENDING)
PARTSTAT = {Crew.Answer.ACCEPTED: "ACCEPTED", Crew.Answer.TENTATIVE: "TENTATIVE"}


@receiver(session_changed, dispatch_uid="bookings.write_calls")
def write_calls(sender: type[Session], session: Session, **kwargs: object) -> None:
    """Invite who is on a confirmed session and doesn't know it as it stands; tell who isn't on it any more."""
    now = timezone.now()
    if session.end <= now:
        return
    calls, letters = _invited(session, now), letters_of(session)
    for call in calls.values():
        _invite(session, call, letters.get(call.person_id, []), now)
    for person_id in letters.keys() - calls.keys():
        _call_off(session, letters[person_id], now)


def _invited(session: Session, now: datetime) -> dict[int, Crew]:
    """Whoever is only wanted isn't invited, and a hold invites nobody."""
    if session.status != Session.Status.CONFIRMED:
        return {}
    crew = Crew.objects.filter(session=session, assigned=True, person__is_active=True, until__gt=now)
    return {call.person_id: call for call in crew.select_related("person") if call.person.email}


def letters_of(session: Session) -> dict[int, list[CallLetter]]:
    """By person, the invitations and cancellations that went out or will, oldest first."""
    found: dict[int, list[CallLetter]] = defaultdict(list)
    rows = CallLetter.objects.filter(session=session, kind__in=[Kind.REQUEST, Kind.CANCEL])
    for row in rows.exclude(state__in=GONE).order_by("pk"):
        found[row.person_id].append(row)
    return found


def last_letters(session: Session) -> dict[int, CallLetter]:
    """By person, the invitation or cancellation that stands."""
    return {person_id: letters[-1] for person_id, letters in letters_of(session).items()}


def oldest_answered(letters: Sequence[CallLetter]) -> int | None:
    """The lowest sequence that an answer may be for: since then the same hours and rooms are asked for.

    None for somebody who isn't invited.
    """
    lowest = None
    for letter in reversed(letters):
        if letter.kind != Kind.REQUEST or asked_for(letter.calendar) != asked_for(letters[-1].calendar):
            break
        lowest = letter.sequence
    return lowest


def _invite(session: Session, crew: Crew, letters: Sequence[CallLetter], now: datetime) -> None:
    partstat = PARTSTAT.get(Crew.Answer(crew.answer), "NEEDS-ACTION")
    text = request(call_of(session, crew, now), partstat)
    last = letters[-1] if letters else None
    invited = last if last and last.kind == Kind.REQUEST and last.to == crew.person.email else None
    if invited and facts(invited.calendar) == facts(text):
        return
    _supersede(session, crew.person_id)
    due_at = max(now + A_MOMENT, crew.call_at - SERIES_AHEAD) if session.series_id else now + A_MOMENT
    _write_calendar(session, crew.person, Kind.REQUEST, crew.person.email, due_at, crew.until, text)


def _call_off(session: Session, letters: Sequence[CallLetter], now: datetime) -> None:
    """Who was never told of the call isn't told that it is off."""
    if letters[-1].kind == Kind.CANCEL:
        return
    person = letters[-1].person
    _supersede(session, person.pk)
    told = next((letter for letter in reversed(letters) if letter.state in TOLD), None)
    if told is None or told.kind == Kind.CANCEL or told.useless_after <= now:
        return
    text = called_off(told.calendar, max(session.sequence, told.sequence), now)
    _write_calendar(session, person, Kind.CANCEL, told.to, now, told.useless_after, text)


def _supersede(session: Session, person_id: int) -> None:
    """Only the newest goes out. A row that is being sent looks for itself whether it still is that one."""
    waiting = CallLetter.objects.filter(session=session, person=person_id, state=State.WAITING)
    old = waiting.filter(kind__in=[Kind.REQUEST, Kind.CANCEL, Kind.CHASE])
    old.update(state=State.DROPPED, error="A newer letter says more.")


def call_of(session: Session, crew: Crew, now: datetime) -> Call:
    room = session.room
    places = ", ".join([room.name, *(other.name for other in session.beside.all())])
    return Call(
        uid=session_uid(session.uid),
        sequence=session.sequence,
        start=crew.call_at,
        end=crew.until,
        zone=room.site.zone,
        summary=session.title,
        location=f"{places}, {room.site.name}",
        description="\n".join(described(session, crew)),
        organiser=Party(organiser_name(), organiser_address()),
        attendee=Party(crew.person.name, crew.person.email),
        stamp=now,
    )


def described(session: Session, crew: Crew) -> list[str]:
    """The call in plain words. A client's name is not told by mail: who works here is a confidence."""
    tz = session.room.site.tz
    lines = [f"Called as {crew.get_role_display()}: {say_span(crew.span, tz, dated=True)}"]
    if crew.role == Role.ASSISTANT and crew.call_at < session.load_in:
        lines.append(f"Setup from {say(crew.call_at, tz, dated=True)} until load-in is inside the call.")
    times = [("Load-in", session.load_in), ("Downbeat", session.downbeat), ("End", session.end)]
    lines += [f"{name}: {say(instant, tz, dated=True)}" for name, instant in times]
    lines += [f"Hours of each day: {hours_of(session)}"] if session.is_lockout else []
    return [*lines, f"Times are on the clock of {session.room.site.zone}."]


def organiser_address() -> str:
    return settings.REPLY_ADDRESS or parseaddr(settings.DEFAULT_FROM_EMAIL)[1]


def organiser_name() -> str:
    return parseaddr(settings.DEFAULT_FROM_EMAIL)[0] or "Deskhand"


def tell_managers(crew: Crew, words: str, by: Person | None = None) -> None:
    """Of what somebody has answered: those of the site and of the whole house, but who entered it."""
    session, now = crew.session, timezone.now()
    for manager in managers_of(session):
        if manager != by:
            about = f"{crew.person_id}.{crew.answer}.{now}.{words}"
            _write(session, manager, Kind.DECLINED, manager.email, now, crew.until, words=words, about=about)


def tell_of_push(session: Session, words: str) -> None:
    """To who is on the session: the one before it runs on."""
    now = timezone.now()
    crew = session.crew.select_related("person").filter(person__is_active=True).exclude(person__email="")
    for call in crew:
        to = call.person.email
        _write(session, call.person, Kind.PUSHED, to, now, session.end, words=words, about=words)


def managers_of(session: Session) -> list[Person]:
    found = Person.objects.with_role(Role.MANAGER).exclude(email="")
    return [person for person in found if person.site_id in (None, session.room.site_id)]


def _write_calendar(
    session: Session, person: Person, kind: str, to: str, due_at: datetime, useless_after: datetime, text: str
) -> None:
    number = CallLetter.objects.filter(session=session, person=person).count() + 1
    _write(session, person, kind, to, due_at, useless_after, calendar=text, about=str(number))


def _write(
    session: Session,
    person: Person,
    kind: str,
    to: str,
    due_at: datetime,
    useless_after: datetime,
    about: str,
    calendar: str = "",
    words: str = "",
) -> bool:
    """One row for what it tells whom: `about` tells two apart. Says whether it is a new one."""
    same = hashlib.sha256(f"{person.pk} {to} {about}".encode()).hexdigest()[:24]
    key = f"{session.uid.hex}.{kind}.{session.sequence}.{same}"
    values = {
        "session": session,
        "person": person,
        "kind": kind,
        "sequence": session.sequence,
        "to": to,
        "due_at": due_at,
        "useless_after": useless_after,
        "calendar": calendar,
        "words": words,
        "message_id": message_id("call", key),
    }
    return CallLetter.objects.get_or_create(key=key, defaults=values)[1]
