"""Series, lockouts and levels of detail read back by readers that did not write them: generated names, zones and
times. The right instants are those of the sessions themselves; zones are told under other names, so that the
definitions in the file have to do.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from itertools import count
from uuid import UUID
from zoneinfo import ZoneInfo

import vobject
from hypothesis import Phase, example, given, settings
from hypothesis import strategies as st

from bookings.calendar.entries import Call, Shown, own_entries, room_entries, unit_entries
from bookings.calendar.repeats import Known, as_series
from bookings.calendar.write import Entry, Feed, feed_bytes
from bookings.drafts import Called, Draft
from bookings.models import Client, Job, Series, Session, SessionKind
from bookings.models import Feed as Address
from bookings.series.rules import RuleRefused, occurrences, shifted, wall_shift
from studio.models import Role, Room, Site
from studio.spans import Span, merged
from tests.outside.calendar_reading import Read, read

ZONES = ["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "America/Santiago", "Pacific/Auckland"]
ZONES += ["Asia/Kathmandu", "Europe/Dublin", "Africa/Casablanca", "UTC"]
RULES = ["FREQ=WEEKLY", "FREQ=WEEKLY;INTERVAL=2", "FREQ=DAILY", "FREQ=DAILY;INTERVAL=3", "FREQ=MONTHLY"]
RULES += ["FREQ=MONTHLY;BYDAY=2TU", "FREQ=WEEKLY;BYDAY=MO,TH", "FREQ=MONTHLY;BYDAY=MO,TU;BYSETPOS=-1"]
MADE = datetime(2026, 1, 2, 8, tzinfo=UTC)
Detail = Address.Detail
NAMES = st.text(min_size=1, max_size=12) | st.sampled_from(["Öde; Saal, 2", "אבג", "a\\nb", '"Loft": 🎸'])
Spans = list[tuple[datetime, datetime]]
quick = settings(deadline=None, phases=[Phase.explicit, Phase.reuse, Phase.generate])
_reading = count(1)


def a_session(number: int, room: Room, start: datetime, end: datetime, **fields: object) -> Session:
    values = {"title": "Quartet", "setup_at": start, "downbeat": start, "clear_at": end, **fields}
    return Session(
        pk=number,
        uid=UUID(int=number),
        job=Job(title="Record", client=Client(name="Tin Harbour")),
        room=room,
        load_in=start,
        end=end,
        made_at=MADE,
        changed_at=MADE,
        **values,
    )


def a_room(zone: str, name: str = "Hall") -> Room:
    return Room(name=name, site=Site(name="Mill Lane", zone=zone), setup_minutes=0, turnaround_minutes=0)


def written(entries: Sequence[Entry], zone: str) -> bytes:
    """The zone under a name that no reader knows."""
    octets = feed_bytes(Feed("Hall", "Sessions", zone, (2026, 2028), entries, 10**8))
    return octets.replace(zone.encode(), f"House/Zone-{next(_reading)}".encode())


def by_strict_reader(octets: bytes) -> Spans:
    return read(octets).times()


def by_vobject(octets: bytes) -> Spans:
    """Its rule sets know EXDATE; an occurrence that another entry stands for is taken out here."""
    events = getattr(vobject.readOne(octets.decode()), "vevent_list", [])
    replaced = {
        (event.uid.value, event.contents["recurrence-id"][0].value.astimezone(UTC))
        for event in events
        if "recurrence-id" in event.contents
    }
    found: Spans = []
    for event in events:
        length = event.dtend.value.astimezone(UTC) - event.dtstart.value.astimezone(UTC)
        starts = [event.dtstart.value]
        if "rrule" in event.contents:
            starts = list(event.getrruleset(addRDate=False))
            starts = [each for each in starts if (event.uid.value, each.astimezone(UTC)) not in replaced]
        if event.status.value != "CANCELLED":
            found += [(each.astimezone(UTC), each.astimezone(UTC) + length) for each in starts]
    return sorted(found)


@dataclass(frozen=True)
class Drawn:
    """A series to be: moved and off are numbers of occurrences."""

    zone: str
    rule: str
    first: datetime
    minutes: int
    repeats: int
    moved: frozenset[int]
    off: frozenset[int]
    late: int


FEW = st.frozensets(st.integers(0, 11), max_size=3)
SERIES = st.builds(
    Drawn,
    zone=st.sampled_from(ZONES),
    rule=st.sampled_from(RULES),
    first=st.integers(0, 24 * 4 * 400).map(lambda quarters: MADE + timedelta(minutes=15 * quarters)),
    minutes=st.integers(30, 60 * 20),
    repeats=st.integers(2, 12),
    moved=FEW,
    off=FEW,
    late=st.sampled_from([-90, 0, 45]),
)


def sessions_of(drawn: Drawn) -> tuple[Known, list[Session]]:
    """As a house would have booked them: the same hours on the clock, some moved, some cancelled."""
    tz, room = ZoneInfo(drawn.zone), a_room(drawn.zone)
    rule = f"{drawn.rule};COUNT={drawn.repeats}"
    length, found = timedelta(minutes=drawn.minutes), []
    for number, each in enumerate(occurrences(rule, drawn.first, tz), start=1):
        start = each.load_in
        end = shifted(drawn.first + length, wall_shift(drawn.first, start, tz), tz)
        if number in drawn.moved:
            start, end = start + timedelta(minutes=50), end + timedelta(minutes=80)
        session = a_session(number, room, start, max(end, start + timedelta(minutes=1)))
        session.occurrence = each.load_in
        session.status = Session.Status.CANCELLED if number in drawn.off else Session.Status.CONFIRMED
        found.append(session)
    series = Series(rule=rule, zone=drawn.zone, starts=drawn.first)
    return Known(series, found[0].uid, 3, MADE), found


def of_room(session: Session) -> list[Entry]:
    return room_entries(Shown(session), Detail.FULL)


def of_somebody(late: int) -> Callable[[Session], list[Entry]]:
    def entries(session: Session) -> list[Entry]:
        start = min(session.load_in + timedelta(minutes=late), session.end - timedelta(seconds=1))
        call = Call(1, "Ann", Role.ASSISTANT, start, session.end)
        return own_entries(Shown(session, [call]), call, Detail.FULL)

    return entries


def standing(found: Sequence[tuple[Session, Sequence[Entry]]]) -> Spans:
    return sorted(
        (entry.start.astimezone(UTC), entry.end.astimezone(UTC))
        for session, entries in found
        for entry in entries
        if not session.cancelled
    )


WEEKLY = Drawn(
    "Europe/Berlin", "FREQ=WEEKLY", datetime(2026, 10, 6, 17, tzinfo=UTC), 240, 6, frozenset(), frozenset(), 0
)


@settings(quick, max_examples=30)
@given(SERIES)
@example(WEEKLY)
@example(replace(WEEKLY, moved=frozenset({2}), off=frozenset({4})))
@example(replace(WEEKLY, late=45, zone="Australia/Lord_Howe"))
def test_a_series_is_read_back_as_its_sessions(drawn: Drawn) -> None:
    try:
        known, sessions = sessions_of(drawn)
    except RuleRefused:  # too long for a house to book
        return
    for entries_of in (of_room, of_somebody(drawn.late)):
        found = [(session, entries_of(session)) for session in sessions]
        octets = written(as_series(known, found), drawn.zone)
        assert by_strict_reader(octets) == standing(found)
        assert by_vobject(octets) == standing(found)


def test_the_plain_cases_are_told_by_a_rule() -> None:
    """Else the test above would say nothing about rules."""
    for drawn, entries in [(WEEKLY, 1), (replace(WEEKLY, moved=frozenset({2})), 2)]:
        known, sessions = sessions_of(drawn)
        told = as_series(known, [(session, of_room(session)) for session in sessions])
        assert len(told) == entries
        assert b"RRULE:FREQ=WEEKLY;UNTIL=" in written(told, drawn.zone)


LOCKOUTS = st.tuples(
    st.sampled_from(ZONES),
    st.integers(0, 24 * 400).map(lambda hours: MADE + timedelta(hours=hours)),
    st.integers(26, 24 * 9),
    st.tuples(st.integers(0, 23), st.integers(0, 23)).filter(lambda hours: hours[0] != hours[1]),
    st.sampled_from([Role.ASSISTANT, Role.ENGINEER]),
    st.integers(0, 3),
)


@settings(quick, max_examples=15)
@given(LOCKOUTS)
def test_a_lockout_is_read_back_day_by_day_as_the_house_takes_room_and_people(
    drawn: tuple[str, datetime, int, tuple[int, int], str, int],
) -> None:
    zone, start, hours, (first, last), role, around = drawn
    end, margin, room = start + timedelta(hours=hours), timedelta(hours=around), a_room(zone)
    day_hours = time(first), time(last)
    session = a_session(1, room, start, end, setup_at=start - margin, clear_at=end + margin)
    session.day_from, session.day_to = day_hours
    draft = Draft(1, room, "Quartet", start, start, end, setup_minutes=60 * around, day_hours=day_hours)
    draft = replace(draft, turnaround_minutes=60 * around)
    spans = draft.calls_of(Called(1, role))
    call = Call(1, "Ann", role, spans[0].start, spans[-1].end or end)
    for entries, wanted in [
        (room_entries(Shown(session, [call]), Detail.FULL), session.days),
        (own_entries(Shown(session, [call]), call, Detail.FULL), spans),
    ]:
        octets = written(entries, zone)
        for reader in (by_strict_reader, by_vobject):
            found = [Span(start, end) for start, end in reader(octets)]
            assert merged(found) == merged(wanted)
            assert len(found) == len(wanted)


def texts(found: Read) -> str:
    names = ("SUMMARY", "LOCATION", "DESCRIPTION", "CATEGORIES")
    return "\n".join(event.text(name) for event in found.events for name in names if event.all(name))


SECRETS = ("Client of secrets", "Title of secrets", "Note of secrets", "Crew of secrets", "Room of secrets")


@settings(quick, max_examples=10)
@given(st.lists(NAMES, min_size=5, max_size=5), st.sampled_from(Session.Status), st.booleans(), st.booleans())
def test_each_level_tells_no_more_than_it_says(
    names: list[str], status: str, lockout: bool, assigned: bool
) -> None:
    client, title, note, crew, place = (f"{s} {name}" for s, name in zip(SECRETS, names, strict=True))
    end = MADE + timedelta(hours=40)
    session = a_session(1, a_room("Europe/Berlin", place), MADE, end, title=title, note=note, status=status)
    session.job = Job(title=f"Job of {client}", client=Client(name=client))
    session.kind = SessionKind(name="Kind of secrets", nature=SessionKind.Nature.WORK)
    if lockout:
        session.day_from, session.day_to = time(10), time(20)
    call = Call(1, crew, Role.ASSISTANT, MADE - timedelta(hours=1), end, assigned)
    shown = Shown(session, [call], [Room(name="Second room of secrets")])
    off = replace(call, off_at=MADE)
    tells: list[Callable[[str], list[Entry]]] = [
        lambda detail: room_entries(shown, detail),
        lambda detail: own_entries(shown, call, detail),
        lambda detail: own_entries(shown, off, detail),
        lambda detail: unit_entries(shown, detail),
    ]
    for tell in tells:
        full, bare, busy = (read(written(tell(detail), "Europe/Berlin")) for detail in Detail.values)
        assert "secrets" in texts(full)
        assert SECRETS[0] not in texts(bare)
        assert SECRETS[2] not in texts(bare)
        assert "secrets" not in texts(busy)
        assert set(texts(busy).split()) <= {"Taken", "Held", "Cancelled"}
        assert full.times() == bare.times() == busy.times()
        assert {event.one("CLASS") for event in full.events} == {"PRIVATE"}
        assert not [event for event in busy.events if event.all("CLASS")]
