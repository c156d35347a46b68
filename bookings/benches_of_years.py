"""The house after years: two hundred thousand sessions in forty rooms, for the benches that ask it questions.

One day is made through the ORM and copied by SQL: a million rows through the ORM would take many minutes.
The database's own guard against overlaps watches every claim, in order of time.
"""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, time, timedelta

from django.contrib.contenttypes.models import ContentType
from django.db import connection
from django.db.backends.utils import CursorWrapper
from django.utils import timezone

from bookings.models import Client, Crew, Job, Session
from studio.models import Claim, Person, Role, Room, Site

SESSIONS, ROOMS, PEOPLE = 200_000, 40, 80
SLOTS = [(8, 6), (15, 6)]  # hour of the load-in and length in hours
DAYS = SESSIONS // (ROOMS * len(SLOTS))
DAYS_AHEAD = 180
HALF_AN_HOUR = timedelta(minutes=30)
SHIFTED = {"setup_at", "load_in", "downbeat", "end", "clear_at", "made_at", "changed_at"}
NUMBERS = """WITH RECURSIVE numbers(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM numbers WHERE n < %s) """
SPANS = [
    ("setup", "session.setup_at", "session.downbeat"),
    ("session", "session.downbeat", 'session."end"'),
    ("turnaround", 'session."end"', "session.clear_at"),
]


def house_of_years() -> Site:
    """Fills the database in use; every room is booked twice a day, from years ago to half a year ahead."""
    site = Site.objects.create(name="Years", zone="Europe/Berlin")
    client = Client.objects.create(name="Somebody")
    job = Job.objects.create(client=client, title="Strings")
    rooms = [Room.objects.create(site=site, name=f"Room {number:02}") for number in range(ROOMS)]
    people = [
        Person.objects.create_person(f"person-{number}", f"Person {number}", [Role.ENGINEER])
        for number in range(PEOPLE)
    ]
    day = [session(room, job, *slot) for room in rooms for slot in SLOTS]
    Session.objects.bulk_create(day)
    Crew.objects.bulk_create(
        Crew(session=each, person=person, role=Role.ENGINEER, call_at=each.load_in, until=each.end)
        for each, person in zip(day, people, strict=True)
    )
    with connection.cursor() as cursor:
        copy_day(cursor)
        claim_everything(cursor)
        cursor.execute("ANALYZE")
    return site


def session(room: Room, job: Job, hour: int, hours: int) -> Session:
    day = timezone.now().astimezone(UTC).date() + timedelta(days=DAYS_AHEAD)
    load_in = datetime.combine(day, time(hour), UTC)
    end = load_in + timedelta(hours=hours)
    return Session(
        job=job,
        room=room,
        title="Strings and harmonium",
        instrument_list="2 vln, vla, vlc, harmonium",
        setup_at=load_in - HALF_AN_HOUR,
        load_in=load_in,
        downbeat=load_in + HALF_AN_HOUR,
        end=end,
        clear_at=end + HALF_AN_HOUR,
        uid=uuid.uuid4(),
        made_at=load_in,
        changed_at=load_in,
    )


def copy_day(cursor: CursorWrapper) -> None:
    """The day that there is, again for each of the DAYS before it, with its crew."""
    columns = [f.column for f in Session._meta.concrete_fields if not f.primary_key]
    values = [_earlier(c) if c in SHIFTED else _new_uid() if c == "uid" else f's."{c}"' for c in columns]
    names = ", ".join(f'"{column}"' for column in columns)
    cursor.execute(
        f"INSERT INTO bookings_session ({names}) {NUMBERS}"  # noqa: S608  our own column names
        f"SELECT {', '.join(values)} FROM numbers CROSS JOIN bookings_session s ORDER BY n DESC, s.id",
        [DAYS - 1],
    )
    no = "false" if connection.vendor == "postgresql" else "0"
    cursor.execute(
        "INSERT INTO bookings_crew (session_id, person_id, role, call_at, until, assigned, answer)"  # noqa: S608
        f" SELECT s.id, c.person_id, c.role, s.load_in, s.\"end\", NOT {no}, 'none'"
        " FROM bookings_session s JOIN bookings_session first ON first.room_id = s.room_id"
        " JOIN bookings_crew c ON c.session_id = first.id"
        f" WHERE s.id <> first.id AND {_hour('s')} = {_hour('first')}"
    )


def claim_everything(cursor: CursorWrapper) -> None:
    kind = ContentType.objects.get_for_model(Session).pk
    yes = "true" if connection.vendor == "postgresql" else "1"
    parts = [
        f"SELECT room.resource_id, {starts} AS starts, {ends} AS ends, '{purpose}' AS purpose, session.id"  # noqa: S608
        " FROM bookings_session session JOIN studio_room room ON room.id = session.room_id"
        for purpose, starts, ends in SPANS
    ]
    parts.append(
        f"SELECT person.resource_id, crew.call_at, crew.until, '{Claim.Purpose.CALL}', crew.session_id"  # noqa: S608
        " FROM bookings_crew crew JOIN studio_person person ON person.id = crew.person_id"
    )
    cursor.execute(
        "INSERT INTO studio_claim (resource_id, starts, ends, purpose, origin_id, firm, exclusive, quantity,"  # noqa: S608
        f" reason, origin_type_id) SELECT one.*, {yes}, {yes}, 1, 'Strings and harmonium', {kind}"
        f" FROM ({' UNION ALL '.join(parts)} ORDER BY 2) one"
    )


def _earlier(column: str) -> str:
    if connection.vendor == "postgresql":
        return f"s.\"{column}\" - numbers.n * interval '1 day'"
    return f"datetime(s.\"{column}\", '-' || numbers.n || ' days')"


def _new_uid() -> str:
    return "gen_random_uuid()" if connection.vendor == "postgresql" else "lower(hex(randomblob(16)))"


def _hour(table: str) -> str:
    if connection.vendor == "postgresql":
        return f"extract(hour from {table}.load_in at time zone 'UTC')"
    return f"strftime('%H', {table}.load_in)"
