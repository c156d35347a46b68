"""Sessions and calls as calendar entries: what a reader of the calendar is told, and what not."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo
from uuid import UUID, uuid5

from bookings.calendar.write import Entry, Status
from bookings.models import Feed, Session
from studio.models import Role, Room
from studio.spans import Span

ALARM_BEFORE = timedelta(minutes=30)
LONGEST_NOTE = 500  # characters; keeps a busy calendar under the size that large clients take
STATUS = {
    Session.Status.HELD: Status.TENTATIVE,
    Session.Status.CONFIRMED: Status.CONFIRMED,
    Session.Status.CANCELLED: Status.CANCELLED,
}
FIRST_WORD = {Session.Status.HELD: "Held: ", Session.Status.CANCELLED: "Cancelled: "}
BUSY_WORD = {Status.TENTATIVE: "Held", Status.CONFIRMED: "Taken", Status.CANCELLED: "Cancelled"}
DAY_WORD = {0: "", 1: " the next day", -1: " the day before"}
Detail = Feed.Detail


@dataclass(frozen=True, slots=True)
class Call:
    """Somebody's part in a session. off_at: when they were taken off it, None for whoever is on it."""

    person_id: int
    name: str
    role: str
    call_at: datetime
    until: datetime
    assigned: bool = True
    off_at: datetime | None = None

    @property
    def words(self) -> str:
        return f"{self.name} ({Role(self.role).label}{'' if self.assigned else ', asked for'})"


@dataclass(frozen=True, slots=True)
class Shown:
    """A session with its crew and the rooms beside its own."""

    session: Session
    crew: Sequence[Call] = ()
    beside: Sequence[Room] = ()


def session_uid(uid: UUID) -> str:
    """The same for ever, and nothing personal in it (RFC 7986 section 5.3)."""
    return f"{uid}@deskhand"


def setup_uid(uid: UUID) -> str:
    """Of the setup call of a session, which is an entry of its own."""
    return session_uid(uuid5(uid, "setup call"))


def day_uid(uid: UUID, number: int) -> str:
    """Of a day of a lockout; the first has the session's own."""
    return session_uid(uuid5(uid, f"day {number}")) if number > 1 else session_uid(uid)


def room_entries(shown: Shown, detail: str) -> list[Entry]:
    """From load-in to end, with setup and turnaround in words; a lockout has an entry a day."""
    session = shown.session
    whole = _entry(shown, detail, session.load_in, session.end)
    if not session.is_lockout:
        return [whole]
    return [
        _day(shown, detail, whole, number, day.start, day.end or session.end)
        for number, day in enumerate(session.days, start=1)
    ]


def unit_entries(shown: Shown, detail: str) -> list[Entry]:
    """Gear stays with a session from its setup until all is cleared, overnight as well."""
    return [_entry(shown, detail, shown.session.setup_at, shown.session.clear_at)]


def own_entries(shown: Shown, call: Call, detail: str) -> list[Entry]:
    """One person's part of a session: an assistant's setup before load-in stands apart from the session."""
    found = list(_own(shown, call, detail))
    if call.off_at:
        return [_off(entry, shown.session, call.off_at, detail) for entry in found]
    return found if call.assigned else [_asked_for(entry, detail) for entry in found]


def _off(entry: Entry, session: Session, at: datetime, detail: str) -> Entry:
    """Somebody who isn't on it any more reads that, and nothing else about it."""
    title = BUSY_WORD[Status.CANCELLED] if detail == Detail.BUSY else f"Off: {session.title}"
    changed_at = max(entry.changed_at, at)
    return replace(
        entry, status=Status.CANCELLED, alarm=None, summary=title, description="", changed_at=changed_at
    )


def _asked_for(entry: Entry, detail: str) -> Entry:
    """Who is wanted but not assigned may still be booked elsewhere."""
    if entry.status == Status.CANCELLED:
        return entry
    title = BUSY_WORD[Status.TENTATIVE] if detail == Detail.BUSY else f"Asked for: {entry.summary}"
    return replace(entry, status=Status.TENTATIVE, summary=title)


def _own(shown: Shown, call: Call, detail: str) -> Iterator[Entry]:
    session, busy = shown.session, detail == Detail.BUSY
    alarm = None if session.cancelled else ALARM_BEFORE
    whole = replace(_entry(shown, detail, call.call_at, call.until), alarm=alarm)
    if session.is_lockout:
        yield from _own_days(shown, call, whole, detail)
        return
    if call.role != Role.ASSISTANT or call.call_at >= session.load_in:
        yield whole
        return
    yield replace(
        whole,
        uid=setup_uid(session.uid),
        end=min(session.load_in, call.until),
        summary=_summary(session, f"Setup for {session.title}", detail),
        description="" if busy else "\n".join(_times(session, _date(call.call_at, session))),
        category="" if busy else "Setup call",
    )
    if call.until > session.load_in:
        yield replace(_entry(shown, detail, session.load_in, call.until), alarm=alarm)


def _own_days(shown: Shown, call: Call, whole: Entry, detail: str) -> Iterator[Entry]:
    """A lockout calls people by day: the first from their call, the last until they are let go."""
    days = list(enumerate(shown.session.days, start=1))
    here = [(n, day) for n, day in days if (day.end or call.until) > call.call_at]
    for number, day in here:
        start = call.call_at if number == here[0][0] else day.start
        end = call.until if number == here[-1][0] else day.end or call.until
        if start < end:
            yield _day(shown, detail, whole, number, start, end)


def _day(shown: Shown, detail: str, whole: Entry, number: int, start: datetime, end: datetime) -> Entry:
    session = shown.session
    lines = [] if detail == Detail.BUSY else [*_times_of_day(session, number), *_more(shown, detail)]
    uid = day_uid(session.uid, number)
    return replace(whole, uid=uid, start=start, end=end, description="\n".join(lines))


def _entry(shown: Shown, detail: str, start: datetime, end: datetime) -> Entry:
    session, busy = shown.session, detail == Detail.BUSY
    site = session.room.site
    rooms = " and ".join([session.room.name, *(room.name for room in shown.beside)])
    lines = [] if busy else [*_times(session, _date(start, session)), *_more(shown, detail)]
    kind = session.kind.name if session.kind else "Session"
    return Entry(
        uid=session_uid(session.uid),
        start=start,
        end=end,
        zone=site.zone,
        summary=_summary(session, session.title, detail),
        made_at=session.made_at,
        changed_at=session.changed_at,
        sequence=session.sequence,
        status=STATUS[Session.Status(session.status)],
        location="" if busy else f"{rooms}, {site.name}",
        description="\n".join(lines),
        category="" if busy else kind,
        private=not busy,
    )


def _summary(session: Session, title: str, detail: str) -> str:
    status = Session.Status(session.status)
    if detail == Detail.BUSY:
        return BUSY_WORD[STATUS[status]]
    words = FIRST_WORD.get(status, "") + title
    return f"{words} ({session.job.client.name})" if detail == Detail.FULL and session.is_work else words


def _date(instant: datetime, session: Session) -> date:
    return instant.astimezone(session.room.site.tz).date()


def clock(instant: datetime, day: date, tz: tzinfo) -> str:
    """Like “02:00 the next day”, as seen from the day. It names no date: a series says it of each of its days."""
    there = instant.astimezone(tz)
    days = (there.date() - day).days
    words = DAY_WORD.get(days) or (f" {abs(days)} days {'later' if days > 0 else 'before'}" if days else "")
    return f"{there.hour:02}:{there.minute:02}{words}"


def _times(session: Session, day: date) -> list[str]:
    tz = session.room.site.tz
    return [
        f"Load-in: {clock(session.load_in, day, tz)}",
        f"Downbeat: {clock(session.downbeat, day, tz)}",
        f"End: {clock(session.end, day, tz)}",
        *_spare(session, day, tz),
        f"The room is taken from {clock(session.setup_at, day, tz)} to {clock(session.clear_at, day, tz)}.",
    ]


def _spare(session: Session, day: date, tz: tzinfo) -> list[str]:
    if session.spare_until is None:
        return []
    until = clock(session.spare_until, day, tz)
    return [f"Spare time until {until} is agreed: kept free, and paid only if it is used."]


def _times_of_day(session: Session, number: int) -> list[str]:
    """Of one day of a lockout, the first being 1."""
    tz, days = session.room.site.tz, session.days
    this = days[number - 1]
    day = _date(this.start, session)
    lines = [f"Day {number} of {len(days)}: {_said(this, day, tz)}."]
    if number == 1:
        lines.append(f"Load-in: {clock(session.load_in, day, tz)}")
        lines.append(f"Downbeat: {clock(session.downbeat, day, tz)}")
        lines.append(f"The room is taken from {clock(session.setup_at, day, tz)}.")
    if number < len(days):
        lines.append(f"The room stays set until {clock(days[number].start, day, tz)}.")
        return lines
    return [*lines, *_spare(session, day, tz), f"The room is taken until {clock(session.clear_at, day, tz)}."]


def _said(span: Span, day: date, tz: tzinfo) -> str:
    return f"{clock(span.start, day, tz)} to {clock(span.end or span.start, day, tz)}"


def _more(shown: Shown, detail: str) -> Iterator[str]:
    """A job's title and a note come from people who know the client: they go where the client's name goes."""
    session = shown.session
    yield f"Crew: {', '.join(call.words for call in shown.crew) or 'nobody yet'}"
    if detail != Detail.FULL:
        return
    yield f"Job: {session.job.title}, for {session.job.client.name}" if session.is_work else session.job.title
    if session.note.strip():
        yield f"Note: {_shortened(session.note)}"
    if session.cancelled_because:
        yield f"Cancelled: {session.cancelled_because}"


def _shortened(note: str) -> str:
    if len(note) <= LONGEST_NOTE:
        return note
    return f"{note[:LONGEST_NOTE].rstrip()} … (the whole note stands with the session)"
