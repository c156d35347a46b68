"""What the form and the board say about the people of a draft. DAY is a Thursday; the site is in Berlin."""

from __future__ import annotations

from dataclasses import replace
from datetime import time
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings.booking import Called
from bookings.drafts import Draft
from bookings.people import rest_broken_by, warnings_for
from studio.claims import Wanted, take
from studio.models import Claim, Person, Role, Room, WorkingHours
from tests.bookings.cast import called, make_draft, make_session
from tests.house import make_person, make_room, make_site, span

pytestmark = pytest.mark.django_db


@pytest.fixture
def ida() -> Person:
    return make_person(Role.ENGINEER, name="Ida", site=make_site())


@pytest.fixture
def room() -> Room:
    return make_room(setup_minutes=0, turnaround_minutes=0)


def draft_for(person: Person, room: Room, start: str, end: str, **fields: Any) -> Draft:
    return make_draft(room, start, end, crew=[called(person)], **fields)


def works(person: Person, weekday: int, starts: str, ends: str) -> None:
    hours = {"starts": time.fromisoformat(starts), "ends": time.fromisoformat(ends)}
    WorkingHours.objects.create(person=person, weekday=weekday, **hours)


def test_a_short_night_is_told_and_books_all_the_same(ida: Person, room: Room) -> None:
    """Directive 2003/88/EC, Article 3: 23:00 to 08:00 is 9 h."""
    make_session(room, "14:00", "23:00", crew=[called(ida)])
    draft = draft_for(ida, room, "2027-03-05 08:00", "2027-03-05 12:00", title="Brass")
    (said,) = warnings_for(draft)
    assert said.startswith("Ida would have 9 h of unbroken rest between “Quartet”")
    assert said.endswith("check local law.")


def test_the_session_that_is_changed_does_not_stand_against_itself(ida: Person, room: Room) -> None:
    session = make_session(room, "14:00", "23:00", crew=[called(ida)])
    later = draft_for(ida, room, "2027-03-05 08:00", "2027-03-05 12:00")
    assert warnings_for(later, session) == []


def test_nights_of_a_lockout_are_rest(ida: Person, room: Room) -> None:
    """Article 3: from 22 to 10 are 12 h a night; with hours until 24 they are 10."""
    days = {"load_in": "10:00", "end": "2027-03-07 20:00", "day_hours": (time(10), time(22))}
    draft = make_draft(room, crew=[called(ida)], **days)
    assert warnings_for(draft) == []
    late = warnings_for(replace(draft, day_hours=(time(10), time(0))))
    assert len(late) == 1
    assert "10 h of unbroken rest between “Quartet” (until Fri 5 March, 00:00)" in late[0]


def test_the_site_s_own_rule_counts(ida: Person, room: Room) -> None:
    make_session(room, "14:00", "23:00", crew=[called(ida)])
    room.site.rest_hours = 9
    assert warnings_for(draft_for(ida, room, "2027-03-05 08:00", "2027-03-05 12:00")) == []


def test_hours_outside_the_usual_ones_are_named(ida: Person, room: Room) -> None:
    works(ida, 4, "10:00", "17:00")
    assert warnings_for(draft_for(ida, room, "10:00", "17:00")) == []
    (said,) = warnings_for(draft_for(ida, room, "09:00", "18:30"))
    assert said == "Ida doesn't usually work then: Thu 4 March, 09:00 to 10:00; Thu 4 March, 17:00 to 18:30."


def test_usual_hours_past_midnight_belong_to_the_evening_before(ida: Person, room: Room) -> None:
    works(ida, 4, "18:00", "02:00")
    assert warnings_for(draft_for(ida, room, "18:00", "2027-03-05 02:00")) == []
    (said,) = warnings_for(draft_for(ida, room, "20:00", "2027-03-05 03:00"))
    assert said == "Ida doesn't usually work then: Fri 5 March, 02:00 to 03:00."


def test_whoever_has_no_pattern_works_at_any_hour(ida: Person, room: Room) -> None:
    assert warnings_for(draft_for(ida, room, "02:00", "05:00")) == []


@pytest.mark.parametrize(("purpose", "words"), [("leave", "on leave"), ("busy", "busy elsewhere")])
def test_a_hold_is_told_of_leave_and_appointments(ida: Person, room: Room, purpose: str, words: str) -> None:
    away = span("2027-03-04 12:00", "2027-03-04 14:00")
    take(ida, [Wanted(ida.resource_id, away, Claim.Purpose(purpose), "away")])
    draft = draft_for(ida, room, "10:00", "18:00", status="held")
    assert warnings_for(draft) == [f"Ida is {words} Thu 4 March, 12:00 to 14:00."]
    only_wanted = replace(draft, status="confirmed", crew=(Called(ida.pk, "engineer", assigned=False),))
    assert warnings_for(only_wanted) == warnings_for(draft)
    assert warnings_for(replace(draft, status="confirmed")) == []  # refused, and said by that


def test_as_many_questions_for_ten_people_as_for_one(room: Room) -> None:
    counts = []
    for many in (1, 10):
        people = [make_person(Role.ENGINEER) for _ in range(many)]
        for person in people:
            works(person, 4, "10:00", "12:00")
        draft = make_draft(room, "10:00", "18:00", crew=[called(person) for person in people])
        with CaptureQueriesContext(connection) as asked:
            assert len(warnings_for(draft)) == many
        counts.append(len(asked))
    assert counts == [3, 3]


def test_work_that_runs_on_is_told_the_rest_it_breaks(ida: Person, room: Room) -> None:
    """Article 3: 22:00 to 09:00 is 11 h, an hour less once it runs on until 23:00."""
    make_session(room, "12:00", "22:00", crew=[called(ida)])
    make_session(room, "2027-03-05 09:00", "2027-03-05 12:00", crew=[called(ida)], title="Brass")
    more = span("2027-03-04 22:00", "2027-03-04 23:00")
    (said,) = rest_broken_by(ida, more, room.site)
    assert "10 h of unbroken rest between “this call” (until Thu 4 March, 23:00) and “Brass”" in said
    assert rest_broken_by(ida, span("2027-03-04 21:00", "2027-03-04 22:00"), room.site) == []
