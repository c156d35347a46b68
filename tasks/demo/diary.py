"""Clients, jobs and three weeks of sessions, booked by the manager through the house's own use cases."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from bookings.booking import Called, Draft, book, cancel, hand_over
from bookings.deposits import set_deposit
from bookings.invitations.answering import set_answer
from bookings.models import Client, Crew, Job, Session, SessionKind
from bookings.series.booking import InTheWay, repeat
from bookings.series.rules import RuleRefused
from bookings.words import clash_sentences
from studio.claims import Conflict
from studio.models import Role, Room
from tasks.demo.entries import Entry
from tasks.demo.house import House, given, once, saved

SOME = 12  # of so many calls
FEW = {4: Crew.Answer.NONE, 8: Crew.Answer.DECLINED, 11: Crew.Answer.TENTATIVE}
OF_SESSION = (
    "job",
    "title",
    "kind",
    "room",
    "beside",
    "day",
    "days",
    "hours",
    "repeats",
    "load_in",
    "downbeat",
    "end",
    "spare_minutes",
    "setup_minutes",
    "turnaround_minutes",
    "crew",
    "instrument_list",
    "note",
    "status",
    "deposit_in",
    "cancelled_because",
    "worked",
    "handover",
)


def add_jobs(house: House, clients: Sequence[Entry], jobs: Sequence[Entry]) -> None:
    for entry in clients:
        entry.only("name", "contact", "email", "phone", "house")
        client = Client(**given(entry, "name", "contact", "email", "phone"))
        client.is_house = entry.get("house", bool, False)
        saved(entry, once(entry, house.clients, client.name, client))
    for entry in jobs:
        entry.only("client", "title", "hourly_rate", "currency", "note")
        client = entry.find(house.clients, entry.get("client", str), "client")
        job = Job(client=client, **given(entry, "title", "hourly_rate", "currency", "note"))
        saved(entry, once(entry, house.jobs, job.title, job))


def add_sessions(house: House, entries: Sequence[Entry]) -> None:
    for entry in entries:
        entry.only(*OF_SESSION)
        draft = draft_of(house, entry)
        try:
            session = book(house.manager, draft)
        except Conflict as conflict:
            sentences = clash_sentences(conflict.clashes, draft.room.site.tz)
            raise entry.wrong(" ".join(sentences)) from None
        house.sessions[session.title] = session
        if because := entry.get("cancelled_because", str, ""):
            cancel(house.manager, session.pk, session.version, because)
        if entry.get("deposit_in", bool, False):
            set_deposit(house.manager, session.pk, True)
        if rule := entry.get("repeats", str, ""):
            _repeat(house, entry, session, rule)
        _worked(house, entry, session, draft)


def _repeat(house: House, entry: Entry, session: Session, rule: str) -> None:
    try:
        repeat(house.manager, session.pk, session.version, rule, left_out=())
    except RuleRefused as refused:
        raise entry.wrong(f"repeats is {rule!r}. {refused}") from None
    except InTheWay as taken:
        days = "; ".join(" ".join([plan.words, *plan.in_the_way]) for plan in taken.plans if not plan.free)
        raise entry.wrong(f"repeats can't be had. {days}") from None


def draft_of(house: House, entry: Entry) -> Draft:
    room = entry.find(house.rooms, entry.get("room", str), "room")
    load_in, downbeat, end = times(entry, room, house.today(room.site))
    return Draft(
        job_id=entry.find(house.jobs, entry.get("job", str), "job").pk,
        room=room,
        title=entry.get("title", str),
        load_in=load_in,
        downbeat=downbeat,
        end=end,
        crew=_crew(house, entry),
        instrument_list=entry.get("instrument_list", str, "").strip(),
        note=entry.get("note", str, ""),
        status=entry.one_of(
            "status", [Session.Status.HELD, Session.Status.CONFIRMED], Session.Status.CONFIRMED
        ),
        setup_minutes=_minutes(entry, "setup_minutes"),
        turnaround_minutes=_minutes(entry, "turnaround_minutes"),
        spare_minutes=_minutes(entry, "spare_minutes") or 0,
        kind=_kind(house, entry, room),
        beside=tuple(entry.find(house.rooms, name, "room") for name in entry.texts("beside")),
        day_hours=entry.clocks("hours"),
    )


def times(entry: Entry, room: Room, today: date) -> tuple[datetime, datetime, datetime]:
    """Load-in, downbeat and end as instants. A time earlier than the one before it is on the next day.

    A lockout of several `days` ends on its last.
    """
    day = today + timedelta(days=entry.get("day", int))
    clocks = [entry.clock(key) for key in ("load_in", "downbeat", "end")]
    found: list[datetime] = []
    for earlier, clock in zip([None, *clocks], clocks, strict=False):
        if earlier and clock < earlier:
            day += timedelta(days=1)
        found.append(datetime.combine(day, clock, room.site.tz))
    load_in, downbeat, end = found
    end += timedelta(days=entry.get("days", int, 1) - 1)
    if not load_in <= downbeat < end:
        raise entry.wrong("load_in, downbeat and end have to come in that order.")
    return load_in, downbeat, end


def _kind(house: House, entry: Entry, room: Room) -> SessionKind | None:
    name = entry.get("kind", str, "")
    return entry.find(house.kinds[room.site.name], name, "kind of session") if name else None


def _minutes(entry: Entry, key: str) -> int | None:
    """None: the room's own."""
    if key not in entry.values:
        return None
    minutes = entry.get(key, int)
    if not 0 <= minutes <= 1440:
        raise entry.wrong(f"{key} is {minutes}; give minutes from 0 to 1440.")
    return minutes


def _crew(house: House, entry: Entry) -> tuple[Called, ...]:
    found = []
    for role in entry.get("crew", dict, {}):
        if role not in Role.values:
            raise entry.wrong(f"crew has {role!r}; use {', '.join(Role.values)}.")
        crew = Entry(entry.file, entry.table, entry.number, {**entry.values, **entry.values["crew"]})
        for username in crew.texts(role):
            person = entry.find(house.people, username, "person")
            if role not in person.roles:
                raise entry.wrong(f"{username} is no {Role(role).label}; add the role or call somebody else.")
            found.append(Called(person.pk, role))
    return tuple(found)


def _worked(house: House, entry: Entry, session: Session, draft: Draft) -> None:
    """Times in and out of what is over, entered by whoever engineered it, else by the manager."""
    both = entry.clocks("worked")
    if both is None:
        return
    clock_in, clock_out = both
    start = datetime.combine(draft.load_in.date(), clock_in, draft.room.site.tz)
    end = datetime.combine(start.date() + timedelta(days=clock_out < clock_in), clock_out, start.tzinfo)
    if end > house.now:
        raise entry.wrong("worked is in the future; take it out or give an earlier day.")
    engineer = session.crew.filter(role=Role.ENGINEER).select_related("person").first()
    by = engineer.person if engineer else house.manager
    hand_over(by, session.pk, start, end, entry.get("handover", str, ""))


def answer_calls(house: House) -> None:
    """Most of the people who are called have accepted; a few say perhaps or no, and a few are silent."""
    ahead = Crew.objects.filter(session__status=Session.Status.CONFIRMED, until__gt=house.now, assigned=True)
    for number, call in enumerate(
        ahead.select_related("person", "session__room__site").order_by("call_at", "pk")
    ):
        answer = FEW.get(number % SOME, Crew.Answer.ACCEPTED)
        if answer != Crew.Answer.NONE:
            because = "at the dentist until noon" if answer == Crew.Answer.DECLINED else ""
            set_answer(call, answer, house.now, call.person, because)
