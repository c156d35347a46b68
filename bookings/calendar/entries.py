"""Sessions and calls as calendar entries: what a reader of the calendar is told, and what not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from uuid import UUID, uuid5

from bookings.calendar.write import Entry, Status
from bookings.models import Crew, Session
from studio.clock import say, say_span
from studio.models import Role

ALARM_BEFORE = timedelta(minutes=30)
LONGEST_NOTE = 500  # characters; keeps a busy calendar under the size that large clients take
STATUS = {
    Session.Status.HELD: Status.TENTATIVE,
    Session.Status.CONFIRMED: Status.CONFIRMED,
    Session.Status.CANCELLED: Status.CANCELLED,
}
FIRST_WORD = {Session.Status.HELD: "Held: ", Session.Status.CANCELLED: "Cancelled: "}


def session_uid(uid: UUID) -> str:
    """The same for ever, and nothing personal in it (RFC 7986 section 5.3)."""
    return f"{uid}@deskhand"


def setup_uid(uid: UUID) -> str:
    """Of the setup call of a session, which is an entry of its own."""
    return session_uid(uuid5(uid, "setup call"))


def room_entry(session: Session, with_client: bool) -> Entry:
    """From load-in to end, with setup and turnaround in words. Takes a session made `with_all()`."""
    return Entry(
        uid=session_uid(session.uid),
        start=session.load_in,
        end=session.end,
        zone=session.room.site.zone,
        summary=_summary(session, session.title, with_client),
        made_at=session.made_at,
        changed_at=session.changed_at,
        sequence=session.sequence,
        status=STATUS[Session.Status(session.status)],
        location=f"{session.room.name}, {session.room.site.name}",
        description="\n".join(_lines(session, with_client)),
        category="Session",
    )


def own_entries(call: Crew, with_client: bool) -> Iterator[Entry]:
    """One person's part of a session: an assistant's setup before load-in stands apart from the session."""
    session = call.session
    alarm = None if session.cancelled else ALARM_BEFORE
    whole = replace(room_entry(session, with_client), start=call.call_at, end=call.until, alarm=alarm)
    if call.role != Role.ASSISTANT or call.call_at >= session.load_in:
        yield whole
        return
    yield replace(
        whole,
        uid=setup_uid(session.uid),
        end=min(session.load_in, call.until),
        summary=_summary(session, f"Setup for {session.title}", with_client),
        description="\n".join(_times(session)),
        category="Setup call",
    )
    if call.until > session.load_in:
        yield replace(whole, start=session.load_in)


def _summary(session: Session, title: str, with_client: bool) -> str:
    words = FIRST_WORD.get(Session.Status(session.status), "") + title
    return f"{words} ({session.job.client.name})" if with_client else words


def _times(session: Session) -> list[str]:
    tz = session.room.site.tz
    return [
        f"Load-in: {say(session.load_in, tz)}",
        f"Downbeat: {say(session.downbeat, tz)}",
        f"End: {say(session.end, tz)}",
        f"The room is taken {say_span(session.whole, tz)}.",
    ]


def _lines(session: Session, with_client: bool) -> list[str]:
    """A job's title and a note come from people who know the client: they go where the client's name goes."""
    lines = _times(session)
    lines += [f"Crew: {', '.join(names)}"] if (names := _crew(session)) else ["Crew: nobody yet"]
    if with_client:
        lines.append(f"Job: {session.job.title}, for {session.job.client.name}")
        lines += [f"Note: {_shortened(session.note)}"] if session.note.strip() else []
        lines += [f"Cancelled: {session.cancelled_because}"] if session.cancelled_because else []
    return lines


def _crew(session: Session) -> list[str]:
    return [f"{call.person.name} ({call.get_role_display()})" for call in session.crew.all()]


def _shortened(note: str) -> str:
    if len(note) <= LONGEST_NOTE:
        return note
    return f"{note[:LONGEST_NOTE].rstrip()} … (the whole note stands with the session)"
