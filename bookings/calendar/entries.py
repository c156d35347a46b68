"""Sessions and calls as calendar entries: what a reader of the calendar is told, and what not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from uuid import UUID, uuid5

from bookings.calendar.write import Entry, Status
from bookings.models import Crew, Feed, Session, TakenOff
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
BUSY_WORD = {Status.TENTATIVE: "Held", Status.CONFIRMED: "Taken", Status.CANCELLED: "Cancelled"}
Detail = Feed.Detail


@dataclass(frozen=True, slots=True)
class Told:
    """How much a calendar tells. dated: whether times in words name their day, which a series can't."""

    detail: str
    dated: bool = True

    @property
    def client(self) -> bool:
        return self.detail == Detail.FULL


def session_uid(uid: UUID) -> str:
    """The same for ever, and nothing personal in it (RFC 7986 section 5.3)."""
    return f"{uid}@deskhand"


def setup_uid(uid: UUID) -> str:
    """Of the setup call of a session, which is an entry of its own."""
    return session_uid(uuid5(uid, "setup call"))


def day_uid(uid: UUID, number: int) -> str:
    """Of a day of a lockout; the first has the session's own."""
    return session_uid(uuid5(uid, f"day {number}")) if number > 1 else session_uid(uid)


def room_entries(session: Session, told: Told) -> list[Entry]:
    """From load-in to end, with setup and turnaround in words; a lockout has an entry a day."""
    whole = _entry(session, told)
    if not session.is_lockout:
        return [whole]
    return [
        replace(whole, uid=day_uid(session.uid, number), start=day.start, end=day.end or session.end)
        for number, day in enumerate(session.days, start=1)
    ]


def own_entries(call: Crew | TakenOff, told: Told) -> list[Entry]:
    """One person's part of a session: an assistant's setup before load-in stands apart from the session."""
    found = list(_own(call, told))
    if isinstance(call, Crew):
        return found
    return [_off(entry, call, told) for entry in found]


def _off(entry: Entry, call: TakenOff, told: Told) -> Entry:
    """Somebody who isn't on it any more reads that, and nothing about it."""
    title = BUSY_WORD[Status.CANCELLED] if told.detail == Detail.BUSY else f"Off: {call.session.title}"
    return replace(
        entry,
        status=Status.CANCELLED,
        alarm=None,
        summary=title,
        description="",
        changed_at=max(entry.changed_at, call.at),
    )


def _own(call: Crew | TakenOff, told: Told) -> Iterator[Entry]:
    session = call.session
    alarm = None if session.cancelled else ALARM_BEFORE
    whole = replace(_entry(session, told), start=call.call_at, end=call.until, alarm=alarm)
    if session.is_lockout:
        yield from _own_days(call, whole)
        return
    if call.role != Role.ASSISTANT or call.call_at >= session.load_in:
        yield whole
        return
    setup = f"Setup for {session.title}"
    yield replace(
        whole,
        uid=setup_uid(session.uid),
        end=min(session.load_in, call.until),
        summary=_summary(session, setup, told),
        description="" if told.detail == Detail.BUSY else "\n".join(_times(session, told)),
        category="" if told.detail == Detail.BUSY else "Setup call",
    )
    if call.until > session.load_in:
        yield replace(whole, start=session.load_in)


def _own_days(call: Crew | TakenOff, whole: Entry) -> Iterator[Entry]:
    """A lockout calls people by day: the first from their call, the last until they are let go."""
    days = [day for day in call.session.days if day.end and day.end > call.call_at]
    for number, day in enumerate(days, start=1):
        start = call.call_at if number == 1 else day.start
        end = call.until if number == len(days) else day.end
        if end and start < end:
            yield replace(whole, uid=day_uid(call.session.uid, number), start=start, end=end)


def _entry(session: Session, told: Told) -> Entry:
    busy = told.detail == Detail.BUSY
    rooms = ", ".join([session.room.name, *(room.name for room in session.beside.all())])
    kind = session.kind.name if session.kind else "Session"
    return Entry(
        uid=session_uid(session.uid),
        start=session.load_in,
        end=session.end,
        zone=session.room.site.zone,
        summary=_summary(session, session.title, told),
        made_at=session.made_at,
        changed_at=session.changed_at,
        sequence=session.sequence,
        status=STATUS[Session.Status(session.status)],
        location="" if busy else f"{rooms}, {session.room.site.name}",
        description="" if busy else "\n".join(_lines(session, told)),
        category="" if busy else kind,
    )


def _summary(session: Session, title: str, told: Told) -> str:
    status = Session.Status(session.status)
    if told.detail == Detail.BUSY:
        return BUSY_WORD[STATUS[status]]
    words = FIRST_WORD.get(status, "") + title
    return f"{words} ({session.job.client.name})" if told.client else words


def _times(session: Session, told: Told) -> list[str]:
    tz = session.room.site.tz

    def when(instant: datetime) -> str:
        return say(instant, tz) if told.dated else f"{instant.astimezone(tz):%H:%M}"

    lines = [f"Load-in: {when(session.load_in)}", f"Downbeat: {when(session.downbeat)}"]
    lines.append(f"End: {when(session.end)}")
    if session.spare_until:
        lines.append(f"Spare time agreed until {when(session.spare_until)}, paid only if it is used.")
    if told.dated:
        lines.append(f"The room is taken {say_span(session.whole, tz)}.")
    else:
        lines.append(f"The room is taken from {when(session.setup_at)} to {when(session.clear_at)}.")
    if session.is_lockout:
        lines.append("The room stays set between the days.")
    return lines


def _lines(session: Session, told: Told) -> list[str]:
    """A job's title and a note come from people who know the client: they go where the client's name goes."""
    lines = _times(session, told)
    lines += [f"Crew: {', '.join(names)}"] if (names := _crew(session)) else ["Crew: nobody yet"]
    if told.client:
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
