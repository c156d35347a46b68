"""What stands in a person's and in a room's calendar. Names like f17 are those of the field cases, part 1."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.cache import cache
from django.utils.http import parse_http_date

from bookings.booking import cancel
from bookings.calendar import feeds
from bookings.calendar.entries import session_uid, setup_uid
from bookings.models import Crew, Session
from studio.models import Role
from tests.bookings.calendar_cast import (
    TODAY,
    changed,
    fetch,
    fetched,
    past_and_coming,
    queries,
    uids,
)
from tests.bookings.cast import called, make_job, make_session, manager
from tests.house import at, make_person, make_room, make_site
from tests.outside.calendar_reading import read

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def today() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(TODAY, tick=False) as traveller:
        yield traveller


def test_a_rooms_feed_shows_its_sessions_from_load_in_to_end() -> None:
    room = make_room()
    session = make_session(room, "10:00", "18:00", downbeat="11:00", setup_minutes=60, turnaround_minutes=45)
    make_session(make_room("Dye House"))
    found = fetched(feeds.make(make_person(Role.ENGINEER), room))
    (event,) = found.events
    assert event.one("UID") == session_uid(session.uid)
    assert found.span(event) == (session.load_in, session.end)
    assert event.one("STATUS") == "CONFIRMED"
    assert event.text("LOCATION") == "Weaving Hall, Mill Lane"
    assert event.text("SUMMARY") == "Quartet (Tin Harbour)"
    assert event.text("CATEGORIES") == "Session"
    assert event.text("DESCRIPTION").splitlines()[:4] == [
        "Load-in: 10:00",
        "Downbeat: 11:00",
        "End: 18:00",
        "The room is taken from 09:00 to 18:45.",
    ]
    assert not event.inside("VALARM")
    assert found.calendar.text("NAME") == "Sessions in Weaving Hall"


def test_a_session_over_midnight_and_a_clock_change_keeps_its_instants() -> None:
    """28 March 2027: Berlin's clocks go from 02:00 to 03:00 (IANA rules)."""
    room = make_room()
    session = make_session(room, "2027-03-27 22:00", "2027-03-28 05:00")
    found = fetched(feeds.make(make_person(Role.ENGINEER), room))
    start, end = found.span(found.events[0])
    assert (start, end) == (session.load_in, session.end)
    assert end - start == timedelta(hours=6)


@pytest.mark.parametrize("days", [1, 3])
def test_f04_a_hold_of_whole_days_lasts_to_the_end_of_its_last_day(days: int) -> None:
    """From midnight to midnight as instants in the room's zone, never as dates that a reader might count otherwise:
    RFC 5545 sections 3.6.1 and 3.8.2.2, the end is not included."""
    room, first, end = make_room(), "2027-06-08 00:00", f"2027-06-{8 + days:02} 00:00"
    make_session(room, first, end, status=Session.Status.HELD)
    found = fetched(feeds.make(make_person(Role.ENGINEER), room))
    (event,) = found.events
    assert found.span(event) == (at(first), at(end))
    assert found.span(event)[1] - found.span(event)[0] == timedelta(days=days)
    assert not any(parameters.get("VALUE") == "DATE" for _, parameters, _ in event.lines)


def test_an_assistants_setup_call_and_session_are_two_entries() -> None:
    room, ann = make_room(), make_person(Role.ASSISTANT, name="Ann")
    session = make_session(room, setup_minutes=90, turnaround_minutes=60, crew=[called(ann, Role.ASSISTANT)])
    found = fetched(feeds.make(ann))
    setup, whole = found.event(setup_uid(session.uid)), found.event(session_uid(session.uid))
    assert found.span(setup) == (at("2027-03-04 08:30"), at("2027-03-04 10:00"))
    assert found.span(whole) == (at("2027-03-04 10:00"), at("2027-03-04 19:00"))
    assert setup.text("SUMMARY") == "Setup for Quartet (Tin Harbour)"
    assert setup.text("CATEGORIES") == "Setup call"
    assert "Crew: Ann (assistant)" in whole.text("DESCRIPTION")
    assert [alarm.one("TRIGGER") for event in found.events for alarm in event.inside("VALARM")] == [
        "-PT30M"
    ] * 2


def test_an_assistant_who_only_sets_up_has_one_entry() -> None:
    room, ann = make_room(), make_person(Role.ASSISTANT)
    session = make_session(room, setup_minutes=90, crew=[called(ann, Role.ASSISTANT)])
    Crew.objects.filter(session=session).update(until=session.load_in)
    assert uids(feeds.make(ann)) == {setup_uid(session.uid)}


def test_an_engineer_has_one_entry_a_session_and_only_their_own() -> None:
    room, ada, ben = make_room(), make_person(Role.ENGINEER), make_person(Role.ENGINEER)
    session = make_session(room, "10:00", "14:00", setup_minutes=60, crew=[called(ada)])
    make_session(room, "16:00", "20:00", crew=[called(ben)])
    found = fetched(feeds.make(ada))
    assert [event.one("UID") for event in found.events] == [session_uid(session.uid)]
    assert found.span(found.events[0]) == (session.load_in, session.end)


def test_a_session_in_a_composite_stands_in_the_calendars_of_its_parts() -> None:
    part = make_room("Booth")
    whole = make_room("Big Hall", parts=[make_room("Hall", parts=[part])])
    session = make_session(whole)
    other = make_session(part, "20:00", "22:00")
    person = make_person(Role.TECH)
    assert uids(feeds.make(person, part)) == {session_uid(session.uid), session_uid(other.uid)}
    assert uids(feeds.make(person, whole)) == {session_uid(session.uid)}


@pytest.mark.parametrize(
    ("roles", "told"),
    [
        ([Role.MANAGER], True),
        ([Role.ENGINEER], True),
        ([Role.ASSISTANT], True),
        ([Role.TECH], False),
        ([], False),
    ],
)
def test_only_roles_that_see_clients_read_who_it_is(roles: list[Role], told: bool) -> None:
    room, person = make_room(), make_person(*roles)
    job = make_job("Tin Harbour", "Harbour songs", hourly_rate="77.77")
    session = make_session(room, job_id=job.pk, note="Tin Harbour bring a dog", crew=[called(person)])
    cancel(manager(), session.pk, session.version, "Tin Harbour are ill")
    for feed in [feeds.make(person), *([feeds.make(person, room)] if roles else [])]:
        text = fetch(feed).content.replace(b"\r\n ", b"").decode()
        assert [words in text for words in ("Tin Harbour", "Harbour songs", "dog", "are ill")] == [told] * 4
        assert "77.7" not in text
        assert "Quartet" in text


@pytest.mark.parametrize("status", ["held", "confirmed"])
def test_a_hold_is_tentative_and_says_so_in_words(status: str) -> None:
    room = make_room()
    make_session(room, status=status)
    (event,) = fetched(feeds.make(make_person(Role.TECH), room)).events
    wanted = {"held": ("TENTATIVE", "Held: Quartet"), "confirmed": ("CONFIRMED", "Quartet")}[status]
    assert (event.one("STATUS"), event.text("SUMMARY")) == wanted


def test_what_is_cancelled_stays_as_cancelled_for_60_days(today: time_machine.Traveller) -> None:
    room, ann = make_room(), make_person(Role.ASSISTANT)
    session = make_session(
        room, "2027-07-01 10:00", "2027-07-01 18:00", setup_minutes=60, crew=[called(ann, Role.ASSISTANT)]
    )
    cancel(manager(), session.pk, session.version, "the singer is ill")
    found = fetched(feeds.make(ann))
    assert {event.one("STATUS") for event in found.events} == {"CANCELLED"}
    assert len(found.events) == 2
    assert not [event for event in found.events if event.inside("VALARM")]
    assert fetched(feeds.make(ann, room)).events[0].text("SUMMARY") == "Cancelled: Quartet (Tin Harbour)"
    today.move_to(TODAY + timedelta(days=60))
    assert len(fetched(feeds.make(ann)).events) == 2
    today.move_to(TODAY + timedelta(days=61))
    assert fetched(feeds.make(ann)).events == []


def test_the_window_is_60_days_back_and_400_ahead() -> None:
    room, midnight = make_room(), TODAY.replace(hour=0, minute=0)
    past_and_coming(room, 0, 0)
    job = make_job()
    hours = {
        "just out": -60 * 24 - 1,
        "just in": -60 * 24 - 0.5,
        "far in": 400 * 24 - 0.5,
        "far out": 400 * 24,
    }
    for title, offset in hours.items():
        start = midnight + timedelta(hours=offset)
        end = start + timedelta(hours=1)
        times = {"setup_at": start, "load_in": start, "downbeat": start, "end": end, "clear_at": end}
        Session.objects.create(room=room, job=job, title=title, made_at=TODAY, changed_at=TODAY, **times)
    found = fetched(feeds.make(make_person(Role.TECH), room))
    assert {event.text("SUMMARY") for event in found.events} == {"just in", "far in"}


def test_f07_the_uid_stays_and_f08_the_sequence_rises_when_a_session_is_moved(
    today: time_machine.Traveller,
) -> None:
    room, other, ann = make_room(), make_room("Dye House"), make_person(Role.ASSISTANT)
    crew = {"crew": [called(ann, Role.ASSISTANT)], "setup_minutes": 60}
    session = make_session(room, **crew)
    feed = feeds.make(ann)

    def seen() -> tuple[set[str], set[int], str]:
        events = fetched(feed).events
        return (
            {event.one("UID") for event in events},
            {int(event.one("SEQUENCE")) for event in events},
            max(event.one("DTSTAMP") for event in events),
        )

    first = seen()
    assert first == seen()
    for fields, rise in [
        ({"load_in": "11:00", "end": "19:00"}, 1),
        ({"load_in": "11:00", "end": "19:00", "room": other}, 1),
        ({"load_in": "11:00", "end": "19:00", "room": other, "note": "bring cake"}, 0),
    ]:
        before = seen()
        today.shift(timedelta(minutes=5))
        session = changed(session, **{**crew, **fields})
        after = seen()
        assert after[0] == first[0] == {session_uid(session.uid), setup_uid(session.uid)}
        assert after[1] == {number + rise for number in before[1]}
        assert after[2] > before[2]
    before = seen()
    cancel(manager(), session.pk, session.version, "")
    assert seen()[1] == {number + 1 for number in before[1]}


def test_no_uid_is_shared_and_none_tells_who() -> None:
    room, ann = make_room(), make_person(Role.ASSISTANT, name="Ann", username="ann")
    for hour in (8, 12, 16):
        make_session(
            room,
            f"{hour}:00".zfill(5),
            f"{hour + 2}:00",
            setup_minutes=30,
            crew=[called(ann, Role.ASSISTANT)],
        )
    found = fetched(feeds.make(ann)).events
    assert len({event.one("UID") for event in found}) == 6
    assert not [event for event in found if "ann" in event.one("UID").lower()]


def test_f13_the_head_of_the_answer() -> None:
    response = fetch(feeds.make(make_person(Role.TECH)))
    assert response["Content-Type"] == "text/calendar; charset=utf-8"
    assert "private" in response["Cache-Control"]
    assert "no-store" not in response["Cache-Control"]
    assert response["Referrer-Policy"] == "no-referrer"
    assert response["ETag"].startswith('"')
    assert parse_http_date(response["Last-Modified"]) <= TODAY.timestamp()
    assert "Set-Cookie" not in response


def test_f14_a_feed_with_nothing_in_it_is_a_whole_calendar() -> None:
    """RFC 5545 section 3.6: at least one component."""
    room = make_room(site=make_site("Harbour", "Asia/Kathmandu"))
    person = make_person(Role.TECH, site=room.site)
    for feed in (feeds.make(person), feeds.make(person, room)):
        found = fetched(feed)
        assert found.events == []
        assert list(found.zones) == ["Asia/Kathmandu"]
    session = make_session(room)
    cancel(manager(), session.pk, session.version, "")
    assert [event.one("STATUS") for event in fetched(feeds.make(person, room)).events] == ["CANCELLED"]


def test_f16_the_feed_says_that_it_may_lag() -> None:
    found = fetched(feeds.make(make_person(Role.TECH)))
    assert "can lag by up to a day" in found.calendar.text("DESCRIPTION")
    assert found.calendar.one("REFRESH-INTERVAL") == found.calendar.one("X-PUBLISHED-TTL") == "PT1H"


def test_f17_a_long_history_neither_swells_nor_slows_the_feed() -> None:
    room, person = make_room(), make_person(Role.MANAGER)
    feed = feeds.make(person, room)
    past_and_coming(room, 3, 3)
    fetch(feed)
    cache.clear()
    few = queries(feed)
    cache.clear()
    Session.objects.all().delete()
    past_and_coming(room, 5000, 400, note="Bring the long cables. " * 200)
    assert queries(feed) == few
    response = fetch(feed)
    assert len(response.content) < 1_000_000
    summaries = {event.text("SUMMARY") for event in read(response.content).events}
    assert {f"Session {5000 + n} (Tin Harbour)" for n in range(400)} <= summaries
    assert 400 < len(summaries) < 620


def test_f17_too_many_for_one_file_leaves_out_what_is_furthest_from_today(
    settings: Any,
) -> None:
    room = make_room()
    past_and_coming(room, 30, 30)
    settings.CALENDAR_MOST_BYTES = 22_000
    found = fetched(feeds.make(make_person(Role.TECH), room))
    assert "left out" in found.calendar.text("DESCRIPTION")
    kept = {event.text("SUMMARY") for event in found.events}
    assert {f"Session {n}" for n in range(30, 60)} <= kept
    assert "Session 0" in kept
    assert "Session 29" not in kept
