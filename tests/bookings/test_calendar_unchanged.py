"""ETag and Last-Modified of feeds: an unchanged one is not built, a changed one never looks unchanged."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils.http import parse_http_date

from bookings.booking import Called, cancel
from bookings.calendar import contents, feeds
from bookings.calendar.entries import session_uid
from bookings.models import Session
from studio.faults import report_fault
from studio.house.forms import PersonForm
from studio.models import Fault, Person, Role, Site
from tests.bookings.calendar_cast import (
    TODAY,
    changed,
    fetch,
    fetched,
    queries,
)
from tests.bookings.cast import called, make_job, make_session, manager
from tests.house import channel, make_person, make_preamp, make_room, make_unit, take_gear
from tests.outside.calendar_reading import read

pytestmark = pytest.mark.django_db
MOST_QUERIES_UNCHANGED = 2


@pytest.fixture(autouse=True)
def today() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(TODAY, tick=False) as traveller:
        yield traveller


def refuse_to_build(*_: object) -> bytes:
    raise AssertionError("the feed was built")


@pytest.mark.parametrize("of_room", [True, False])
def test_an_unchanged_feed_is_answered_304_without_building_it(
    of_room: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    room, ann = make_room(), make_person(Role.ASSISTANT)
    make_session(room, setup_minutes=60, crew=[called(ann, Role.ASSISTANT)])
    feed = feeds.make(ann, room if of_room else None)
    first = fetch(feed)
    monkeypatch.setattr(contents, "feed_bytes", refuse_to_build)
    for headers in (
        {"If-None-Match": first["ETag"]},
        {"If-None-Match": f'"other", W/{first["ETag"]}'},
        {"If-Modified-Since": first["Last-Modified"]},
    ):
        with CaptureQueriesContext(connection) as captured:
            response = fetch(feed, **headers)
        assert (response.status_code, response.content) == (304, b"")
        assert response["ETag"] == first["ETag"]
        assert "private" in response["Cache-Control"]
        assert len(captured) <= MOST_QUERIES_UNCHANGED
    with pytest.raises(AssertionError, match="was built"):
        fetch(feed, **{"If-None-Match": '"other"'})


def test_a_site_read_a_while_ago_does_not_set_the_count_back_when_it_is_saved() -> None:
    room = make_room()
    old = Site.objects.get(pk=room.site_id)
    make_session(room)
    feed = feeds.make(manager(), room)
    etag = fetch(feed)["ETag"]
    old.notice = "by letter"
    old.save()
    make_session(room, "20:00", "22:00")
    assert fetch(feed, **{"If-None-Match": etag}).status_code == 200
    assert Site.objects.get(pk=room.site_id).revision > 1


@pytest.mark.parametrize("of", ["room", "own", "unit", "job"])
def test_a_change_elsewhere_builds_no_feed_either(of: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The other room counts for the same site, and so do its client and its crew for the house."""
    room, other, ann, unit = make_room(), make_room("Dye House"), make_person(Role.ENGINEER), make_unit("Q-1")
    session = make_session(room, crew=[called(ann)])
    take_gear(unit, session.whole, origin=session)
    subjects = {"room": room, "own": None, "unit": unit, "job": session.job}
    feed = feeds.make(ann if of == "own" else manager(), subjects[of])
    etag = fetch(feed)["ETag"]
    monkeypatch.setattr(contents, "feed_bytes", refuse_to_build)
    make_session(other, crew=[called(make_person(Role.ENGINEER))], job_id=make_job("Larkspur").pk)
    take_gear(make_unit("Q-2"), session.whole, origin=session)
    few = queries(feed, **{"If-None-Match": etag})
    assert fetch(feed, **{"If-None-Match": etag}).status_code == 304
    again = queries(feed, **{"If-None-Match": etag})
    assert again <= (few if of == "unit" else MOST_QUERIES_UNCHANGED)


def test_a_unit_s_feed_changes_with_plans_and_faults_and_when_it_was_to_be_back(
    today: time_machine.Traveller,
) -> None:
    unit, session = make_preamp("Rack 1"), make_session()
    feed = feeds.make(manager(), unit)
    seen = [fetch(feed)["ETag"]]
    take_gear(channel(unit, 3), session.whole, origin=session)
    seen.append(fetch(feed)["ETag"])
    assert len(fetched(feed).events) == 1
    fault = report_fault(manager(), unit, None, Fault.Effect.DEAD, words="hums")
    seen.append(fetch(feed)["ETag"])
    Fault.objects.filter(pk=fault.pk).update(expected_back=TODAY + timedelta(hours=3))
    seen.append(fetch(feed)["ETag"])
    today.shift(timedelta(hours=4))
    seen.append(fetch(feed)["ETag"])
    assert all(before != after for before, after in itertools.pairwise(seen))


def rename_client(session: Session) -> None:
    client = session.job.client
    client.name = "Copper Quay"
    client.save()


def rename_job(session: Session) -> None:
    session.job.title = "Songs of the quay"
    session.job.save()


def rename_room(session: Session) -> None:
    session.room.name = "Loom Hall"
    session.room.save()


def rename_colleague(session: Session) -> None:
    ada = Person.objects.get(name="Ada")
    ada.name = "Ada Lind"
    ada.save()


def rename_many(session: Session) -> None:
    Person.objects.filter(name="Ada").update(name="Ada Lind")


def rename_the_house(session: Session) -> None:
    Site.objects.update(name="Weir Works")


def move_site(session: Session) -> None:
    session.room.site.zone = "Europe/Lisbon"
    session.room.site.save()


def move(session: Session) -> None:
    changed(session, load_in="11:00", crew=crew_of(session), setup_minutes=60)


def write_note(session: Session) -> None:
    changed(session, note="bring cake", crew=crew_of(session), setup_minutes=60)


def call_off(session: Session) -> None:
    cancel(manager(), session.pk, session.version, "")


def swap_colleague(session: Session) -> None:
    crew = [c for c in crew_of(session) if c.role == Role.ASSISTANT]
    changed(session, crew=[*crew, called(make_person(Role.ENGINEER))], setup_minutes=60)


def add_another(session: Session) -> None:
    make_session(session.room, "20:00", "22:00", crew=crew_of(session))


def crew_of(session: Session) -> list[Called]:
    return [Called(call.person_id, call.role) for call in session.crew.all()]


@pytest.mark.parametrize("of_room", [True, False])
@pytest.mark.parametrize(
    "alter",
    [
        rename_client,
        rename_job,
        rename_room,
        rename_colleague,
        rename_many,
        rename_the_house,
        move_site,
        move,
        write_note,
        call_off,
        swap_colleague,
        add_another,
    ],
)
def test_whatever_changes_the_bytes_changes_the_etag(
    alter: Any, of_room: bool, today: time_machine.Traveller
) -> None:
    room, ann, ada = make_room(), make_person(Role.ASSISTANT), make_person(Role.ENGINEER, name="Ada")
    session = make_session(room, setup_minutes=60, crew=[called(ann, Role.ASSISTANT), called(ada)])
    feed = feeds.make(ann, room if of_room else None)
    before = fetch(feed)
    today.shift(timedelta(seconds=2))
    assert fetch(feed).content == before.content
    alter(session)
    after = fetch(feed, **{"If-None-Match": before["ETag"]})
    assert after.status_code == 200
    assert after.content != before.content
    assert parse_http_date(after["Last-Modified"]) >= parse_http_date(before["Last-Modified"])


def test_last_modified_never_runs_backwards_when_a_session_leaves_the_feed(
    today: time_machine.Traveller,
) -> None:
    room, other, ann = make_room(), make_room("Dye House"), make_person(Role.ASSISTANT)
    make_session(room, "08:00", "09:00", crew=[called(ann, Role.ASSISTANT)])
    today.shift(timedelta(minutes=1))
    session = make_session(room, crew=[called(ann, Role.ASSISTANT)])
    own, of_room = feeds.make(ann), feeds.make(ann, room)
    before = [fetch(own), fetch(of_room)]
    today.shift(timedelta(minutes=1))
    changed(session, room=other)
    for feed, earlier in zip((own, of_room), before, strict=True):
        later = fetch(feed, **{"If-Modified-Since": earlier["Last-Modified"]})
        assert later.status_code == 200
        assert parse_http_date(later["Last-Modified"]) > parse_http_date(earlier["Last-Modified"])
        uid = session_uid(session.uid)
        if feed is of_room:
            assert uid.encode() not in later.content
        else:
            assert read(later.content).event(uid).one("STATUS") == "CANCELLED", "taken off"


def test_a_role_given_under_house_puts_the_client_in_at_once() -> None:
    person = make_person()
    session = make_session(make_room(), crew=[called(person)])
    feed = feeds.make(person)
    before = fetch(feed)
    assert session.job.client.name not in before.content.decode()
    form = PersonForm(
        {"username": person.username, "name": person.name, "is_active": "on", "roles": [Role.ENGINEER]},
        instance=person,
    )  # fmt: skip
    assert form.is_valid(), form.errors
    form.save()
    after = fetch(feed, **{"If-None-Match": before["ETag"]})
    assert session.job.client.name in after.content.decode()


def test_a_lost_role_takes_the_client_out_at_once() -> None:
    room, person = make_room(), make_person(Role.ENGINEER, Role.TECH)
    make_session(room)
    feed = feeds.make(person, room)
    before = fetch(feed)
    assert b"Tin Harbour" in before.content
    person.roles_held.filter(role=Role.ENGINEER).delete()
    after = fetch(feed, **{"If-None-Match": before["ETag"]})
    assert after.status_code == 200
    assert b"Tin Harbour" not in after.content
