"""How each person on a session stands to their call, in words for a page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from bookings.invitations.answering import not_asked
from bookings.models import CallLetter, Crew, Session
from studio.access import Act, may, may_answer
from studio.clock import say
from studio.models import Person

Kind, State, Answer = CallLetter.Kind, CallLetter.State, Crew.Answer
MARK = {Answer.ACCEPTED: "full", Answer.TENTATIVE: "half", Answer.NONE: "broken", Answer.DECLINED: "crossed"}
MOST_SHOWN = 60


@dataclass(frozen=True, slots=True)
class CallLine:
    """mark and words: the answer. more: how they were asked, for whoever may do something about it.

    can: whether the reader may answer now; own: whether it is the reader's own call.
    """

    call: Crew
    mark: str
    words: str
    more: str
    can: bool
    own: bool


def call_lines(session: Session, reader: Person, now: datetime) -> list[CallLine]:
    """Of everybody on a session made `with_all()`; one query."""
    calls = list(session.crew.all())
    books = may(reader, Act.BOOK) and session.status == Session.Status.CONFIRMED
    letters = _newest(session) if books and any(call.answer == Answer.NONE for call in calls) else None
    for call in calls:
        call.session = session
    return [_line(call, reader, now, letters) for call in calls]


def line_of(call: Crew, reader: Person, now: datetime) -> CallLine:
    return _line(call, reader, now, None)


def to_answer(person: Person, now: datetime) -> QuerySet[Crew]:
    """The calls ahead that somebody hasn't answered, soonest first."""
    return _open(now).filter(person=person, answer=Answer.NONE)[:MOST_SHOWN]


def not_accepted(now: datetime) -> QuerySet[Crew]:
    """Of everybody, the calls ahead that nobody has said yes to, those declined first."""
    return _open(now).exclude(answer=Answer.ACCEPTED)[:MOST_SHOWN]


def _open(now: datetime) -> QuerySet[Crew]:
    confirmed = Crew.objects.filter(session__status=Session.Status.CONFIRMED, assigned=True, until__gt=now)
    return confirmed.select_related("person", "session__room__site").order_by("call_at", "pk")


def _newest(session: Session) -> dict[int, CallLetter]:
    rows = CallLetter.objects.filter(session=session, kind=Kind.REQUEST).exclude(state=State.DROPPED)
    return {row.person_id: row for row in rows.order_by("pk")}


def _line(call: Crew, reader: Person, now: datetime, letters: dict[int, CallLetter] | None) -> CallLine:
    answer, trouble = Answer(call.answer), not_asked(call, now)
    tz = call.session.room.site.tz
    more = f"since {say(call.answered_at, tz)}" if call.answered_at else ""
    if answer == Answer.NONE and letters is not None and not trouble:
        more = " ".join(_asked(call, letters.get(call.person_id)))
    words = answer.label if call.assigned or answer != Answer.NONE else "wanted, not called"
    if call.session.is_hold:
        words = "wanted" if not call.assigned else "not called before it is confirmed"
    can = not trouble and may_answer(reader, call.person)
    return CallLine(call, MARK[answer], words, more, can, call.person_id == reader.pk)


def _asked(call: Crew, letter: CallLetter | None) -> Iterator[str]:
    tz = call.session.room.site.tz
    if not call.person.email:
        yield "has no e-mail address: tell them yourself"
    elif letter is None:
        yield "not invited by mail: tell them yourself"
    elif letter.state == State.FAILED:
        yield f"the invitation didn't arrive: {letter.error}"
    elif letter.sent_at:
        yield f"invited {say(letter.sent_at, tz)}"
    else:
        yield "the invitation is on its way"
