"""Invitations as rows, written in the transaction of the change that they tell of."""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta
from email.utils import parseaddr

from django.conf import settings
from django.dispatch import receiver
from django.utils import timezone

from bookings.calendar.entries import session_uid
from bookings.invitations.message import Call, Party, cancelled, facts, request
from bookings.models import CallLetter, Crew, Session
from bookings.signals import session_changed
from studio.clock import say, say_span
from studio.models import Person, Role
from studio.post import message_id
from studio.spans import Span

Kind, State = CallLetter.Kind, CallLetter.State
A_MOMENT = timedelta(minutes=2)  # a slip that is put right at once goes out once
CHASES = ("first", "last")


@receiver(session_changed, dispatch_uid="bookings.write_calls")
def write_calls(sender: type[Session], session: Session, **kwargs: object) -> None:
    """Invite who is on a confirmed session and doesn't know it as it stands; tell who isn't on it any more."""
    now = timezone.now()
    if session.end <= now:
        return
    invited = session.status == Session.Status.CONFIRMED
    crew = Crew.objects.filter(session=session, assigned=True, person__is_active=True).select_related(
        "person"
    )
    on_it = {call.person_id: call for call in crew if call.person.email} if invited else {}
    last = last_letters(session)
    for call in on_it.values():
        _invite(session, call, last.get(call.person_id), now)
    for person_id, letter in last.items():
        if person_id not in on_it and letter.kind == Kind.REQUEST:
            _call_off(session, letter, now)


def last_letters(session: Session) -> dict[int, CallLetter]:
    """The last invitation or cancellation to each person that went out or will."""
    gone = [State.DROPPED, State.FAILED, State.MISSED]
    rows = CallLetter.objects.filter(session=session, kind__in=[Kind.REQUEST, Kind.CANCEL])
    return {row.person_id: row for row in rows.exclude(state__in=gone).order_by("pk")}


def _invite(session: Session, crew: Crew, last: CallLetter | None, now: datetime) -> None:
    text = request(call_of(session, crew.person, crew.call_at, crew.until, now))
    if (
        last
        and last.kind == Kind.REQUEST
        and facts(last.calendar) == facts(text)
        and last.to == crew.person.email
    ):
        return
    _supersede(session, crew.person_id)
    _write(session, crew.person, Kind.REQUEST, crew.person.email, now + A_MOMENT, session.end, calendar=text)


def _call_off(session: Session, last: CallLetter, now: datetime) -> None:
    """Who was never told isn't told that it is off."""
    _supersede(session, last.person_id)
    if last.state == State.WAITING:
        return
    taken_off = session.taken_off.filter(person=last.person_id).first()
    span = _span_told(last) or (session.load_in, session.end)
    start, end = (taken_off.call_at, taken_off.until) if taken_off else span
    text = cancelled(call_of(session, last.person, start, end, now))
    _write(session, last.person, Kind.CANCEL, last.to, now, session.end, calendar=text)


def _span_told(letter: CallLetter) -> tuple[datetime, datetime] | None:
    crew = Crew.objects.filter(session=letter.session_id, person=letter.person_id).first()
    return (crew.call_at, crew.until) if crew else None


def _supersede(session: Session, person_id: int) -> None:
    waiting = CallLetter.objects.filter(session=session, person=person_id, state=State.WAITING)
    waiting.exclude(kind=Kind.DECLINED).update(state=State.DROPPED, error="A newer letter says more.")


def call_of(session: Session, person: Person, start: datetime, end: datetime, now: datetime) -> Call:
    room = session.room
    places = ", ".join([room.name, *(other.name for other in session.beside.all())])
    return Call(
        uid=session_uid(session.uid),
        sequence=session.sequence,
        start=start,
        end=end,
        zone=room.site.zone,
        summary=session.title,
        location=f"{places}, {room.site.name}",
        description="\n".join(described(session, person, start, end)),
        organiser=Party("Deskhand", organiser_address()),
        attendee=Party(person.name, person.email),
        stamp=now,
    )


def described(session: Session, person: Person, start: datetime, end: datetime) -> list[str]:
    """The same in plain words. A client's name is not told by mail: who works here is a confidence."""
    tz = session.room.site.tz
    role = session.crew.filter(person=person).values_list("role", flat=True).first()
    lines = [f"Called as {Role(role).label}: {say_span(Span(start, end), tz)}" if role else "Your call"]
    lines += [f"Setup is inside your call: load-in {say(session.load_in, tz)}"] * (role == Role.ASSISTANT)
    lines += [f"Load-in: {say(session.load_in, tz)}", f"Downbeat: {say(session.downbeat, tz)}"]
    lines += [f"End: {say(session.end, tz)}"]
    if session.is_lockout:
        lines += ["The hours of each day:", *(say_span(day, tz) for day in session.days)]
    return lines


def organiser_address() -> str:
    return settings.REPLY_ADDRESS or parseaddr(settings.DEFAULT_FROM_EMAIL)[1]


def tell_of_decline(crew: Crew, because: str) -> None:
    """To the managers of the site and of the whole house, once for what was declined."""
    session, now = crew.session, timezone.now()
    words = f"{crew.person.name} has declined." + (f" “{because}”" if because else "")
    for manager in managers_of(session):
        about = f"{crew.person_id}.{crew.answered_at}"
        _write(session, manager, Kind.DECLINED, manager.email, now, session.end, words=words, about=about)


def tell_of_push(session: Session, words: str) -> None:
    """To who is on the session: the one before it runs on."""
    now = timezone.now()
    for crew in (
        session.crew.select_related("person").filter(person__is_active=True).exclude(person__email="")
    ):
        _write(
            session, crew.person, Kind.PUSHED, crew.person.email, now, session.end, words=words, about=words
        )


def managers_of(session: Session) -> list[Person]:
    found = Person.objects.with_role(Role.MANAGER).exclude(email="")
    return [person for person in found if person.site_id in (None, session.room.site_id)]


def chase_the_silent() -> int:
    """Ask once more who hasn't answered: some time after the invitation, and again the day before."""
    now, done = timezone.now(), 0
    silent = Crew.objects.filter(answer=Crew.Answer.NONE, call_at__gt=now, assigned=True)
    sent = CallLetter.objects.filter(kind=Kind.REQUEST, state=State.SENT, session__end__gt=now)
    for letter in sent.select_related("session__room__site", "person").order_by("pk"):
        crew = silent.filter(session=letter.session_id, person=letter.person_id).first()
        last = last_letters(letter.session).get(letter.person_id)
        if crew is None or last is None or last.pk != letter.pk or letter.sent_at is None:
            continue
        waited = now - letter.sent_at >= timedelta(hours=settings.CHASE_AFTER_HOURS)
        the_day_before = crew.call_at - now <= timedelta(hours=24)
        if waited or the_day_before:
            about = f"{letter.pk}.{CHASES[1] if the_day_before else CHASES[0]}"
            words = "We have no answer from you yet. Will you come?"
            done += _write(
                letter.session,
                letter.person,
                Kind.CHASE,
                letter.to,
                now,
                crew.call_at,
                words=words,
                about=about,
            )
    return done


def _write(
    session: Session,
    person: Person,
    kind: str,
    to: str,
    due_at: datetime,
    useless_after: datetime,
    calendar: str = "",
    words: str = "",
    about: str = "",
) -> bool:
    """Says whether it is a new row."""
    same = hashlib.sha256(f"{person.pk} {to} {about} {'|'.join(facts(calendar))}".encode()).hexdigest()[:24]
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
