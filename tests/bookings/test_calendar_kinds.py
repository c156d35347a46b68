"""Feeds of every kind, in three levels of detail; series as rules; what was kept is what would be built anew."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import time, timedelta

import pytest
import time_machine
from django.core.exceptions import PermissionDenied

from bookings.calendar import feeds
from bookings.calendar.entries import session_uid
from bookings.models import Feed
from studio.faults import report_fault
from studio.models import Fault, Role, Room
from tests.bookings.calendar_cast import TODAY, changed, fetch, fetched
from tests.bookings.cast import browser_of, called, make_job, make_session, manager, said
from tests.house import make_person, make_room, make_unit, take_gear

pytestmark = pytest.mark.django_db
Detail = Feed.Detail


@pytest.fixture(autouse=True)
def _today() -> Iterator[None]:
    with time_machine.travel(TODAY, tick=False):
        yield


def summaries(feed: Feed) -> list[str]:
    return sorted(event.text("SUMMARY") for event in fetched(feed).events)


def test_a_job_a_site_and_a_room_each_have_their_own_sessions() -> None:
    tin, lark = make_job("Tin Harbour", "Record"), make_job("Larkspur", "Mixes")
    hall, loft = make_room("Hall"), make_room("Loft")
    make_session(hall, title="Band", job_id=tin.pk)
    make_session(loft, title="Voice", job_id=lark.pk, beside=(make_room("Booth"),))
    by = manager()
    assert summaries(feeds.make(by, tin)) == ["Band (Tin Harbour)"]
    assert summaries(feeds.make(by, hall.site)) == ["Band (Tin Harbour)", "Voice (Larkspur)"]
    assert summaries(feeds.make(by, Room.objects.get(name="Booth"))) == ["Voice (Larkspur)"]


def test_a_unit_s_calendar_has_the_sessions_that_use_it_and_when_it_is_out() -> None:
    session = make_session(make_room(), title="Band")
    unit = make_unit("Q-1")
    take_gear(unit, session.whole, origin=session)
    spare = make_unit("Q-2")
    report_fault(manager(), spare, None, Fault.Effect.DEAD, words="hums")
    assert summaries(feeds.make(manager(), unit)) == ["Band (Tin Harbour)"]
    assert summaries(feeds.make(manager(), spare)) == ["Out: Q-2: hums"]
    assert summaries(feeds.make(manager(), spare, Detail.BUSY)) == ["Taken"]


def test_three_levels_tell_less_and_less() -> None:
    room = make_room("Hall")
    make_session(
        room, title="Band", note="Bring cake", crew=[called(make_person(Role.ENGINEER, name="Anna"))]
    )
    full, bare, busy = (fetch(feeds.make(manager(), room, each)).content for each in Detail.values)
    assert b"Tin Harbour" in full
    assert b"Bring cake" in full
    assert b"Tin Harbour" not in bare
    assert b"Band" in bare
    for secret in (b"Tin Harbour", b"Band", b"Anna", b"cake", b"Load-in"):
        assert secret not in busy
    assert b"SUMMARY:Taken" in busy


def test_whoever_may_not_see_clients_gets_no_more_by_asking_for_more() -> None:
    room, tech = make_room("Hall"), make_person(Role.TECH)
    make_session(room)
    assert b"Tin Harbour" not in fetch(feeds.make(tech, room, Detail.FULL)).content
    with pytest.raises(PermissionDenied):
        feeds.make(tech, make_job())
    freelancer = make_person(Role.ENGINEER, freelance=True)
    with pytest.raises(PermissionDenied):
        feeds.make(freelancer, room)
    feed = feeds.make(manager(), room)
    Feed.objects.filter(pk=feed.pk).update(owner=freelancer)
    assert fetch(feed).status_code == 404


def test_who_is_taken_off_reads_that_for_60_days_and_nothing_more() -> None:
    anna, otis = make_person(Role.ENGINEER), make_person(Role.ENGINEER)
    session = make_session(make_room(), crew=[called(anna), called(otis)], note="secret")
    feed = feeds.make(otis)
    session = changed(session, crew=[called(anna)])
    event = fetched(feed).event(session_uid(session.uid))
    assert (event.one("STATUS"), event.text("SUMMARY")) == ("CANCELLED", "Off: Quartet")
    assert not event.all("DESCRIPTION")
    with time_machine.travel(TODAY + timedelta(days=62), tick=False):
        assert not fetched(feed).events


def test_a_lockout_is_an_entry_a_day() -> None:
    otis = make_person(Role.ASSISTANT)
    session = make_session(
        make_room(),
        "2027-03-04 09:00",
        "2027-03-06 18:00",
        day_hours=(time(10), time(22)),
        crew=[called(otis, Role.ASSISTANT)],
        setup_minutes=60,
        turnaround_minutes=30,
    )
    days = [(day.start, day.end) for day in session.days]
    assert fetched(feeds.make(manager(), session.room)).times() == days
    own = fetched(feeds.make(otis)).times()
    assert own[0][0] == session.setup_at
    assert own[-1][1] == session.clear_at
    assert [start for start, _ in own[1:]] == [start for start, _ in days[1:]]


def test_the_page_makes_addresses_of_every_kind() -> None:
    desk, unit, job = browser_of(manager()), make_unit("Q-1"), make_job()
    for typed in ({"unit": "q-1"}, {"job": job.pk, "detail": "busy"}, {"site": unit.site_id}):
        desk.post("/calendars/make", typed)
    page = said(desk.get("/calendars"))
    assert "Q-1 , gear unit, everything" in page
    assert "Quartet and harmonium , job, busy times only" in page
    assert 'value="Q-1"' in desk.get("/calendars?unit=Q-1").content.decode()


def test_what_can_not_be_made_is_said_beside_what_was_typed() -> None:
    desk, unit, job = browser_of(manager()), make_unit("Q-1"), make_job()
    wrong = desk.post("/calendars/make", {"unit": "nope", "detail": "busy"})
    assert "No unit has the tag “nope”." in said(wrong)
    assert 'value="nope"' in wrong.content.decode()
    two = desk.post("/calendars/make", {"unit": unit.tag, "job": job.pk})
    assert "Choose one: a room, a site, a job or a unit." in said(two)
    assert two.status_code == wrong.status_code == 422
    assert not Feed.objects.exists()


def test_the_page_offers_no_more_than_somebody_may_see() -> None:
    job, room = make_job("Tin Harbour", "Secret record"), make_room()
    tech, guest = make_person(Role.TECH), make_person(Role.ENGINEER, freelance=True)
    for person, offered in [(tech, room.name), (guest, "busy times only")]:
        page = said(browser_of(person).get("/calendars"))
        assert offered in page
        assert "Secret record" not in page
    assert room.name not in said(browser_of(guest).get("/calendars"))
    for person, typed in [(tech, {"job": job.pk}), (guest, {"room": room.pk}), (guest, {"unit": "Q-1"})]:
        assert browser_of(person).post("/calendars/make", typed).status_code == 403
    browser_of(guest).post("/calendars/make", {"detail": "busy"})
    assert Feed.objects.get().detail == Detail.BUSY
