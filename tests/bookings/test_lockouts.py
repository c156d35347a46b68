"""A lockout: several days in which the room stays set. Hours and money are those of its days."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta
from itertools import pairwise

import pytest

from bookings.booking import Called, change
from bookings.drafts import Draft, as_draft, room_time, wanted_claims
from bookings.lockouts import working_days
from bookings.models import Crew, Session, TakenOff
from studio.models import Claim, Role
from studio.spans import Span
from tests.bookings.cast import called, make_draft, make_session, manager
from tests.house import BERLIN, at, make_person, make_room

pytestmark = pytest.mark.django_db
HOURS = (time(10), time(22))


def lockout(**fields: object) -> Draft:
    room = make_room(setup_minutes=60, turnaround_minutes=30)
    values = {"day_hours": HOURS, "setup_minutes": None, "turnaround_minutes": None, **fields}
    return make_draft(room, "2027-03-04 09:00", "2027-03-06 18:00", "2027-03-04 11:00", **values)


def test_the_days_of_a_lockout_begin_with_the_load_in_and_stop_with_the_end() -> None:
    days = working_days(Span(at("2027-03-04 09:00"), at("2027-03-06 18:00")), HOURS, BERLIN)
    assert days == [
        Span(at("2027-03-04 09:00"), at("2027-03-04 22:00")),
        Span(at("2027-03-05 10:00"), at("2027-03-05 22:00")),
        Span(at("2027-03-06 10:00"), at("2027-03-06 18:00")),
    ]


def test_hours_past_midnight_belong_to_the_evening_before() -> None:
    days = working_days(Span(at("2027-03-04 20:00"), at("2027-03-06 02:00")), (time(20), time(2)), BERLIN)
    assert days == [
        Span(at("2027-03-04 20:00"), at("2027-03-05 02:00")),
        Span(at("2027-03-05 20:00"), at("2027-03-06 02:00")),
    ]


def test_each_day_keeps_its_wall_hours_when_the_clocks_change() -> None:
    # Europe/Berlin springs forward on 28 March 2027 (IANA tz database, 2026 edition)
    days = working_days(Span(at("2027-03-27 10:00"), at("2027-03-29 22:00")), HOURS, BERLIN)
    assert [day.start.astimezone(BERLIN).hour for day in days] == [10, 10, 10]


def test_the_room_is_taken_without_a_gap_and_stays_set_at_night() -> None:
    spans = list(room_time(lockout()))
    assert [purpose for purpose, _ in spans] == [
        Claim.Purpose.SETUP,
        Claim.Purpose.SESSION,
        Claim.Purpose.SESSION,
        Claim.Purpose.SESSION,
        Claim.Purpose.STAYS,
        Claim.Purpose.STAYS,
        Claim.Purpose.TURNAROUND,
    ]
    ordered = sorted((span for _, span in spans), key=lambda span: span.start)
    assert ordered[0].start == at("2027-03-04 08:00")
    assert ordered[-1].end == at("2027-03-06 18:30")
    assert all(one.end == other.start for one, other in pairwise(ordered))


def test_the_booked_hours_are_those_of_the_days() -> None:
    session = make_session(lockout().room, "2027-03-04 09:00", "2027-03-06 18:00", day_hours=HOURS)
    assert session.booked == timedelta(hours=13 + 12 + 8)


def test_people_are_called_by_day_and_free_at_night() -> None:
    anna, otis = make_person(Role.ENGINEER), make_person(Role.ASSISTANT)
    draft = lockout(crew=[called(anna), called(otis, Role.ASSISTANT)])
    calls = [w.span for w in wanted_claims(draft) if w.resource_id == otis.resource_id]
    assert calls == [
        Span(at("2027-03-04 08:00"), at("2027-03-04 22:00")),
        Span(at("2027-03-05 10:00"), at("2027-03-05 22:00")),
        Span(at("2027-03-06 10:00"), at("2027-03-06 18:30")),
    ]


def test_a_session_as_it_stands_makes_the_same_claims_again() -> None:
    anna, beside = make_person(Role.ENGINEER), make_room("Loft")
    made = make_session(
        lockout().room,
        "2027-03-04 09:00",
        "2027-03-06 18:00",
        day_hours=HOURS,
        crew=[called(anna)],
        spare_minutes=90,
        beside=(beside,),
    )
    again = wanted_claims(as_draft(Session.objects.with_all().get(pk=made.pk)))
    kept = {(c.resource_id, c.span, c.purpose) for c in made.claims.all()}
    assert {(w.resource_id, w.span, str(w.purpose)) for w in again} == kept


def test_spare_time_keeps_the_room_and_is_paid_only_where_it_was_used() -> None:
    session = make_session(make_room(), "10:00", "18:00", spare_minutes=120)
    assert session.claims.get(purpose=Claim.Purpose.SPARE).span == Span(
        at("2027-03-04 18:00"), at("2027-03-04 20:00")
    )
    assert session.paid == timedelta(hours=8)
    session.worked_from, session.worked_to = at("2027-03-04 10:00"), at("2027-03-04 19:30")
    assert session.paid == timedelta(hours=9, minutes=30)
    session.worked_to = at("2027-03-04 23:00")
    assert session.paid == timedelta(hours=10)


def test_who_is_only_wanted_can_still_work_elsewhere() -> None:
    anna = make_person(Role.ENGINEER)
    wanted = [Called(anna.pk, Role.ENGINEER, assigned=False)]
    make_session(make_room("Hall"), crew=wanted)
    assert make_session(make_room("Loft"), crew=[called(anna)]).pk


def test_an_answer_stays_while_the_hours_stay_and_whoever_goes_is_remembered() -> None:
    anna, otis = make_person(Role.ENGINEER), make_person(Role.ASSISTANT)
    session = make_session(make_room(), crew=[called(anna), called(otis, Role.ASSISTANT)])
    session.crew.update(answer=Crew.Answer.ACCEPTED)
    draft = as_draft(Session.objects.with_all().get(pk=session.pk))
    session = change(manager(), session.pk, session.version, replace(draft, crew=(called(anna),)))
    assert session.crew.get().answer == Crew.Answer.ACCEPTED
    assert TakenOff.objects.get().person == otis
    moved = make_draft(draft.room, "11:00", "18:00", crew=[called(anna), called(otis)])
    session = change(manager(), session.pk, session.version, moved)
    assert {crew.answer for crew in session.crew.all()} == {Crew.Answer.NONE}
    assert not TakenOff.objects.exists()


def test_whoever_comes_at_the_usual_hour_moves_with_it_and_an_hour_of_ones_own_moves_along() -> None:
    anna, otis = make_person(Role.ENGINEER), make_person(Role.ASSISTANT)
    early = Called(anna.pk, Role.ENGINEER, at("2027-03-04 09:00"))
    made = make_session(make_room(), "10:00", "12:00", crew=[early, called(otis, Role.ASSISTANT)])
    draft = as_draft(Session.objects.with_all().get(pk=made.pk))
    moved = draft.moved(at("2027-03-05 07:00"), at("2027-03-05 07:00"), at("2027-03-05 08:00"))
    assert [moved.call_of(c)[0] for c in moved.crew] == [at("2027-03-05 06:00"), at("2027-03-05 07:00")]
