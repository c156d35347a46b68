"""A session as somebody would like it, and what it would claim of the house."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from bookings.lockouts import working_days
from bookings.models import Crew, Session, SessionKind
from studio.claims import Wanted
from studio.models import Claim, Person, Role, Room
from studio.spans import Span, gaps

Nature, Purpose = SessionKind.Nature, Claim.Purpose
PURPOSE = {Nature.WORK: Purpose.SESSION, Nature.UPKEEP: Purpose.UPKEEP, Nature.CLOSURE: Purpose.CLOSURE}
ROOM_TIME = [Purpose.SETUP, *PURPOSE.values(), Purpose.STAYS, Purpose.SPARE, Purpose.TURNAROUND]
ROOM_PURPOSES = [*ROOM_TIME, Purpose.CALL]


@dataclass(frozen=True, slots=True)
class Called:
    """A person on a session. call_at None: assistants from setup, others from load-in.

    Who isn't assigned is only wanted, and not taken by it.
    """

    person_id: int
    role: str
    call_at: datetime | None = None
    assigned: bool = True


@dataclass(frozen=True, slots=True)
class Draft:
    """A session as somebody would like it. Minutes of None: the room's own, or none for what is no work.

    beside: rooms taken together with `room`, of the same site. day_hours makes it a lockout: the hours worked
    on each day, between which the room stays set. hold_until of None: as usual.
    """

    job_id: int
    room: Room
    title: str
    load_in: datetime
    downbeat: datetime
    end: datetime
    crew: tuple[Called, ...] = ()
    setup_minutes: int | None = None
    turnaround_minutes: int | None = None
    instrument_list: str = ""
    note: str = ""
    status: str = Session.Status.CONFIRMED
    hold_until: date | None = None
    kind: SessionKind | None = None
    spare_minutes: int = 0
    beside: tuple[Room, ...] = ()
    day_hours: tuple[time, time] | None = None
    wanted_units: tuple[int, ...] = ()
    series_id: int | None = None
    occurrence: datetime | None = None

    @property
    def nature(self) -> str:
        return self.kind.nature if self.kind else Nature.WORK

    @property
    def setup_at(self) -> datetime:
        return self.load_in - timedelta(minutes=self._minutes(self.setup_minutes, self.room.setup_minutes))

    @property
    def spare_until(self) -> datetime | None:
        return self.end + timedelta(minutes=self.spare_minutes) if self.spare_minutes else None

    @property
    def last(self) -> datetime:
        """The end, or that of the spare time after it."""
        return self.spare_until or self.end

    @property
    def clear_at(self) -> datetime:
        minutes = self._minutes(self.turnaround_minutes, self.room.turnaround_minutes)
        return self.last + timedelta(minutes=minutes)

    def _minutes(self, own: int | None, of_room: int) -> int:
        if own is not None:
            return own
        return of_room if self.nature == Nature.WORK else 0

    @property
    def whole(self) -> Span:
        return Span(self.setup_at, self.clear_at)

    @property
    def days(self) -> list[Span]:
        """The spans in which it is worked: one, or one a day for a lockout."""
        return working_days(Span(self.load_in, self.end), self.day_hours, self.room.site.tz)

    @property
    def firm(self) -> bool:
        return self.status == Session.Status.CONFIRMED

    @property
    def rooms(self) -> list[Room]:
        """Every room that it takes, with their parts, its own first, each once."""
        found = {part.pk: part for room in (self.room, *self.beside) for part in room.with_parts()}
        return list(found.values())

    def usual_call(self, role: str) -> datetime:
        """When somebody in this role comes who isn't called at an hour of their own."""
        return self.setup_at if role == Role.ASSISTANT else self.load_in

    def moved(self, load_in: datetime, downbeat: datetime, end: datetime, room: Room | None = None) -> Draft:
        """The same with other times, and maybe in another room: calls at hours of their own move along."""
        later = load_in - self.load_in
        crew = tuple(
            replace(called, call_at=called.call_at + later) if called.call_at else called
            for called in self.crew
        )
        return replace(self, load_in=load_in, downbeat=downbeat, end=end, crew=crew, room=room or self.room)

    def calls_of(self, called: Called) -> list[Span]:
        """When this person works, a span a day: assistants set up and break down, others stay from load-in to
        the end of the spare time."""
        last = self.clear_at if called.role == Role.ASSISTANT else self.last
        first = called.call_at or self.usual_call(called.role)
        if first >= last:
            first = self.usual_call(called.role)
        days = [day for day in self.days if day.end and day.end > first] or [Span(first, last)]
        days[0] = Span(first, days[0].end)
        days[-1] = Span(days[-1].start, last)
        return days

    def call_of(self, called: Called) -> tuple[datetime, datetime]:
        """From this person's first instant to the last one."""
        days = self.calls_of(called)
        return days[0].start, days[-1].end or self.clear_at


def wanted_claims(draft: Draft) -> list[Wanted]:
    """Every room with its parts for setup, session, nights, spare time and turnaround, and the people."""
    return claims_of(draft, draft.rooms, resources_of(draft))


def resources_of(draft: Draft) -> dict[int, int]:
    """The resources of the people it calls, by the person's number."""
    ids = [called.person_id for called in draft.crew]
    return dict(Person.objects.filter(pk__in=ids).values_list("pk", "resource_id"))


def claims_of(draft: Draft, rooms: Sequence[Room], resources: Mapping[int, int]) -> list[Wanted]:
    """As wanted_claims, for whoever has looked up its rooms and people already."""
    taken = [
        Wanted(room.resource_id, span, purpose, draft.title, firm=draft.firm)
        for room in rooms
        for purpose, span in room_time(draft)
    ]
    people = [
        Wanted(
            resources[called.person_id],
            span,
            Purpose.CALL,
            draft.title,
            firm=draft.firm and called.assigned,
        )
        for called in draft.crew
        for span in draft.calls_of(called)
    ]
    return taken + people


def room_time(draft: Draft) -> Iterator[tuple[Claim.Purpose, Span]]:
    """What a room is taken for and when, without a gap from setup to clear."""
    session = Span(draft.downbeat, draft.end)
    nights = gaps(draft.days, session)
    spans = [(Purpose.SETUP, draft.setup_at, draft.downbeat)]
    spans += [
        (PURPOSE[Nature(draft.nature)], day.start, day.end or draft.end) for day in gaps(nights, session)
    ]
    spans += [(Purpose.STAYS, night.start, night.end or draft.end) for night in nights]
    spans += [(Purpose.SPARE, draft.end, draft.last), (Purpose.TURNAROUND, draft.last, draft.clear_at)]
    for purpose, start, end in spans:
        if start < end:
            yield purpose, Span(start, end)


def as_draft(session: Session) -> Draft:
    """The session as it stands, as something to book. Takes one made `with_all()`."""
    hours = (session.day_from, session.day_to) if session.day_from and session.day_to else None
    return Draft(
        job_id=session.job_id,
        room=session.room,
        title=session.title,
        load_in=session.load_in,
        downbeat=session.downbeat,
        end=session.end,
        crew=tuple(_called(session, crew) for crew in session.crew.all()),
        setup_minutes=in_minutes(session.load_in - session.setup_at),
        turnaround_minutes=in_minutes(session.clear_at - session.last),
        instrument_list=session.instrument_list,
        note=session.note,
        status=session.status,
        kind=session.kind,
        spare_minutes=in_minutes(session.last - session.end),
        beside=tuple(session.beside.all()),
        day_hours=hours,
        wanted_units=tuple(unit.pk for unit in session.wanted_units.all()),
        series_id=session.series_id,
        occurrence=session.occurrence,
    )


def _called(session: Session, crew: Crew) -> Called:
    """Who comes at the usual hour moves with it; only an hour of their own is kept as such."""
    usual = session.setup_at if crew.role == Role.ASSISTANT else session.load_in
    return Called(crew.person_id, crew.role, None if crew.call_at == usual else crew.call_at, crew.assigned)


def in_minutes(length: timedelta) -> int:
    return round(length.total_seconds() / 60)
