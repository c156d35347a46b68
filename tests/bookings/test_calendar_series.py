"""A series in a calendar is one entry with a rule where it is regular, and says what isn't."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.core.cache import cache

from bookings.booking import Called, Stale, cancel, change
from bookings.calendar import feeds
from bookings.calendar.entries import session_uid, setup_uid
from bookings.drafts import as_draft
from bookings.models import Feed, Series, Session
from bookings.series.booking import Scope, cancel_series, change_series, repeat
from studio.models import Role
from tests.bookings.calendar_cast import TODAY, fetch, fetched
from tests.bookings.cast import called, make_session, manager
from tests.house import at, make_person, make_room

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture(autouse=True)
def _today() -> Iterator[None]:
    with time_machine.travel(TODAY, tick=False):
        yield


def weekly(crew: list[Called], start: str = "19:00", end: str = "23:00", **fields: Any) -> list[Session]:
    """Eight Thursdays from 4 March 2027 on."""
    first = make_session(make_room(), start, end, crew=crew, **fields)
    repeat(manager(), first.pk, first.version, "FREQ=WEEKLY;COUNT=8", [])
    return list(Session.objects.with_all().order_by("load_in"))


def spans(sessions: list[Session]) -> list[tuple[datetime, datetime]]:
    return [(session.load_in, session.end) for session in sessions]


def sequence_of(feed: Feed, uid: str) -> int:
    return max(int(event.one("SEQUENCE")) for event in fetched(feed).events if event.one("UID") == uid)


def test_a_regular_series_is_one_entry_with_a_rule_over_the_clock_change() -> None:
    """Field case F06. Europe/Berlin springs forward on 28 March 2027 (IANA tz database)."""
    anna = make_person(Role.ENGINEER)
    sessions = weekly([called(anna)])
    for feed in (feeds.make(manager(), sessions[0].room), feeds.make(anna)):
        (event,) = fetched(feed).events
        assert event.one("UID") == session_uid(sessions[0].uid)
        assert fetched(feed).times() == spans(sessions)


def test_a_session_keeps_its_uid_when_it_begins_to_repeat() -> None:
    first = make_session(make_room())
    feed = feeds.make(manager(), first.room)
    before = fetched(feed).event(session_uid(first.uid))
    repeat(manager(), first.pk, first.version, "FREQ=WEEKLY;COUNT=4", [])
    (after,) = fetched(feed).events
    assert after.one("UID") == before.one("UID")
    assert int(after.one("SEQUENCE")) > int(before.one("SEQUENCE"))


def test_what_is_moved_cancelled_or_left_out_of_a_series_is_said_so() -> None:
    sessions = weekly([])
    moved = sessions[2]
    draft = as_draft(moved).moved(moved.load_in - HOUR, moved.downbeat - HOUR, moved.end)
    change(manager(), moved.pk, moved.version, replace(draft, title="With guests"))
    cancel(manager(), sessions[4].pk, sessions[4].version, "ill")
    feed = feeds.make(manager(), sessions[0].room)
    found = fetched(feed)
    assert len(found.events) == 3
    assert {event.one("UID") for event in found.events} == {session_uid(sessions[0].uid)}
    assert found.times() == spans(list(Session.objects.standing().order_by("load_in")))
    with time_machine.travel(TODAY + timedelta(days=61), tick=False):
        left = fetched(feed)
        assert [len(event.all("EXDATE")) for event in left.events if event.all("RRULE")] == [1]


def test_the_series_keeps_its_uid_when_its_first_sessions_are_long_past() -> None:
    sessions = weekly([])
    feed = feeds.make(manager(), sessions[0].room)
    with time_machine.travel(at("2027-05-20 12:00"), tick=False):
        found = fetched(feed)
        assert found.events[0].one("UID") == session_uid(sessions[0].uid)
        assert len(found.times()) == 5  # from 60 days back on: 25 March to 22 April


def test_an_assistant_s_setup_calls_are_a_series_of_their_own() -> None:
    otis = make_person(Role.ASSISTANT)
    sessions = weekly([called(otis, Role.ASSISTANT)], setup_minutes=60)
    found = fetched(feeds.make(otis))
    uid = sessions[0].uid
    assert {event.one("UID") for event in found.events} == {session_uid(uid), setup_uid(uid)}
    setups = [(session.setup_at, session.load_in) for session in sessions]
    assert found.times() == sorted(setups + spans(sessions))


def test_who_is_called_after_the_load_in_is_called_to_the_last_session_too() -> None:
    """UNTIL is an instant of the entry's own starts (RFC 5545 section 3.3.10), not of the load-ins."""
    anna = make_person(Role.ENGINEER)
    late = Called(anna.pk, Role.ENGINEER, at("2027-03-04 20:30"))
    sessions = weekly([late])
    found = fetched(feeds.make(anna))
    assert len(found.events) == 1
    assert found.times() == [(s.crew.get().call_at, s.crew.get().until) for s in sessions]


def test_a_session_that_a_clock_change_makes_shorter_stands_by_itself() -> None:
    """Repeats are equally long in elapsed time (RFC 5545 section 3.8.5.3): on the night of 27 March 2027 in
    Berlin, 22:00 to 05:00 is an hour less (IANA tz database)."""
    first = make_session(make_room(), "2027-03-06 22:00", "2027-03-07 05:00")
    repeat(manager(), first.pk, first.version, "FREQ=WEEKLY;COUNT=8", [])
    found = fetched(feeds.make(manager(), first.room))
    assert len(found.events) == 2
    assert found.times() == spans(list(Session.objects.order_by("load_in")))


def test_an_hour_that_the_clock_skips_is_left_to_no_reader() -> None:
    """02:30 doesn't exist in Berlin on 28 March 2027 (IANA tz database)."""
    first = make_session(make_room(), "2027-03-07 02:30", "2027-03-07 05:00")
    repeat(manager(), first.pk, first.version, "FREQ=WEEKLY;COUNT=5", [])
    found = fetched(feeds.make(manager(), first.room))
    assert len(found.events) == 5
    assert found.times() == spans(list(Session.objects.order_by("load_in")))


def test_a_first_day_that_the_rule_does_not_give_makes_no_rule() -> None:
    """4 March 2027 is a Thursday; what readers make of that with BYDAY=TU differs (RFC 5545 section 3.8.5.3)."""
    first = make_session(make_room())
    repeat(manager(), first.pk, first.version, "FREQ=WEEKLY;BYDAY=TU;COUNT=5", [])
    found = fetched(feeds.make(manager(), first.room))
    assert len(found.events) == Session.objects.count() == 5
    assert found.times() == spans(list(Session.objects.order_by("load_in")))


def test_whose_calls_are_irregular_reads_each_of_them() -> None:
    anna, ben = make_person(Role.ENGINEER), make_person(Role.ENGINEER)
    sessions = weekly([called(anna)])
    for session in sessions[2:]:
        draft = replace(as_draft(session), crew=(called(ben),))
        change(manager(), session.pk, session.version, draft)
    own = Session.objects.filter(crew__person=anna).order_by("load_in")
    found = fetched(feeds.make(anna))
    assert not [event for event in found.events if event.all("RRULE")]
    assert found.times() == spans(list(own))
    gone = [event for event in found.events if event.one("STATUS") == "CANCELLED"]
    assert len(gone) == 8 - own.count() == 6
    with time_machine.travel(TODAY + timedelta(days=61), tick=False):
        assert not [event for event in fetched(feeds.make(anna)).events if event.one("STATUS") == "CANCELLED"]


def test_an_edit_of_this_and_the_following_never_lowers_a_sequence() -> None:
    """RFC 5545 section 3.8.7.4; a client that knows a higher one keeps the old rule."""
    sessions = weekly([])
    feed = feeds.make(manager(), sessions[0].room)
    uid = session_uid(sessions[0].uid)
    seen = [sequence_of(feed, uid)]
    for number in (6, 4, 1):
        session = Session.objects.with_all().get(pk=sessions[number].pk)
        quarter = HOUR / 4
        times = session.load_in + quarter, session.downbeat + quarter, session.end + quarter
        draft = as_draft(session).moved(*times)
        change_series(manager(), session.pk, session.version, draft, Scope.FOLLOWING)
        seen.append(sequence_of(feed, uid))
    assert seen == sorted(set(seen))
    assert Series.objects.count() > 1
    assert fetched(feed).times() == spans(list(Session.objects.order_by("load_in")))


def test_a_series_that_is_over_is_neither_changed_nor_cancelled() -> None:
    session = weekly([])[1]
    draft = as_draft(session).moved(session.load_in + HOUR, session.downbeat + HOUR, session.end + HOUR)
    with time_machine.travel(TODAY + timedelta(days=90), tick=False):
        with pytest.raises(Stale):
            change_series(manager(), session.pk, session.version, draft, Scope.ALL)
        with pytest.raises(Stale):
            cancel_series(manager(), session.pk, session.version, Scope.FOLLOWING, "over")


def test_a_kept_series_is_the_same_as_one_built_from_nothing() -> None:
    anna = make_person(Role.ENGINEER)
    sessions = weekly([called(anna)])
    watched = [
        feeds.make(manager(), sessions[0].room),
        feeds.make(anna),
        feeds.make(manager(), sessions[0].job),
    ]
    for number, scope in [(5, Scope.FOLLOWING), (1, Scope.ALL), (6, Scope.FOLLOWING)]:
        session = Session.objects.with_all().get(pk=sessions[number].pk)
        draft = as_draft(session).moved(session.load_in + HOUR / 2, session.downbeat + HOUR / 2, session.end)
        change_series(manager(), session.pk, session.version, replace(draft, title=f"No {number}"), scope)
        kept = [fetch(feed).content for feed in watched]
        cache.clear()
        Feed.objects.update(built_for="", stamp="")
        assert [fetch(feed).content for feed in watched] == kept
