"""A session that runs on: until when at most, what it costs, whom it pushes, whose rest it breaks."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine
from django.core.exceptions import PermissionDenied

from bookings.ladder import PastHolds
from bookings.models import Session
from bookings.overrun import CantRunOn, run_on, running_on
from studio.models import Claim, Notice, Role, ServicePlan
from studio.service.doing import save_plan, take_slot
from studio.spans import Span
from tests.bookings.cast import browser_of, called, make_job, make_session, manager, said
from tests.house import at, make_person, make_preamp, make_room

pytestmark = pytest.mark.django_db
NOW = at("2027-03-04 17:10")


@pytest.fixture(autouse=True)
def _during() -> Iterator[None]:
    with time_machine.travel(at("2027-03-01 12:00"), tick=False) as clock:
        make_job(hourly_rate=Decimal("90.00"))
        yield
        clock.shift(0)


def late(session: Session) -> Session:
    return Session.objects.with_all().get(pk=session.pk)


def test_nothing_follows_so_it_may_go_on_at_the_job_s_rate() -> None:
    session = make_session(make_room(), "10:00", "18:00")
    ways = running_on(late(session), NOW)
    assert ways.most is None
    assert [(o.until, o.cost) for o in ways.options[:2]] == [
        (at("2027-03-04 18:30"), Decimal("45.00")),
        (at("2027-03-04 19:00"), Decimal("90.00")),
    ]


def test_the_next_session_s_setup_bounds_it_and_the_turnaround_gives_way_first() -> None:
    hall = make_room()
    session = make_session(hall, "10:00", "18:00", turnaround_minutes=60)
    make_session(hall, "21:00", "23:00", title="Choir", setup_minutes=60)
    ways = running_on(late(session), NOW)
    assert ways.most == at("2027-03-04 20:00")
    assert [o.until for o in ways.options] == [
        at(f"2027-03-04 {wall}") for wall in ("18:30", "19:00", "19:30", "20:00")
    ]
    assert [o.turnaround_left.total_seconds() / 60 for o in ways.options] == [60, 60, 30, 0]
    assert "Leaves 30 min of 1 h of turnaround before “Choir”." in ways.options[2].sentences
    assert ways.stopped_by == ["Weaving Hall is taken from Thu 4 March, 20:00: “Choir”."]


def test_who_is_called_elsewhere_bounds_it_as_well_and_short_rest_is_said() -> None:
    anna = make_person(Role.ENGINEER, name="Anna")
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    make_session(make_room("Loft"), "20:00", "21:00", crew=[called(anna)], title="Voice")
    ways = running_on(late(session), NOW)
    assert ways.most == at("2027-03-04 20:00")
    assert ways.stopped_by == ["Anna is taken from Thu 4 March, 20:00: “Voice”."]


def test_rest_that_gets_too_short_is_said_before_the_press() -> None:
    anna = make_person(Role.ENGINEER, name="Anna")
    session = make_session(make_room(), "10:00", "22:00", crew=[called(anna)])
    make_session(make_room("Loft"), "2027-03-05 09:30", "2027-03-05 12:00", crew=[called(anna)])
    ways = running_on(late(session), at("2027-03-04 21:50"))
    assert ways.options[0].sentences == []
    assert ways.options[1].sentences == [
        "Anna: 10 h 30 min of rest before “Quartet”, less than 11 h in 24 hours"
    ]
    assert ways.rules == ["11 h of rest in 24 hours: Directive 2003/88/EC, Article 3: 11 h. Check local law."]


def test_people_who_lose_the_same_rest_stand_in_one_line_and_another_day_is_named() -> None:
    crew = [called(make_person(Role.ENGINEER, name=name)) for name in ("Anna", "Bo")]
    hall = make_room()
    session = make_session(hall, "10:00", "22:30", crew=crew)
    make_session(hall, "2027-03-05 10:00", "2027-03-05 12:00", crew=crew, title="Choir")
    last = running_on(late(session), at("2027-03-04 22:20")).options[3]
    assert last.words == "Fri 00:30"
    assert last.sentences == ["Anna and Bo: 9 h 30 min of rest before “Choir”, less than 11 h in 24 hours"]


def test_one_press_books_it_and_the_next_session_is_told() -> None:
    hall = make_room()
    session = make_session(hall, "10:00", "18:00", turnaround_minutes=60, spare_minutes=30)
    choir = make_session(hall, "21:00", "23:00", title="Choir", setup_minutes=60)
    with time_machine.travel(NOW, tick=False):
        run_on(make_person(Role.ENGINEER), session.pk, session.version, at("2027-03-04 19:30"))
    session.refresh_from_db()
    assert (session.end, session.spare_until, session.clear_at) == (
        at("2027-03-04 19:30"),
        None,
        at("2027-03-04 20:00"),
    )
    assert session.claims.get(purpose=Claim.Purpose.TURNAROUND).span == Span(
        at("2027-03-04 19:30"), at("2027-03-04 20:00")
    )
    words = choir.history.get(what="before it").words
    assert words.startswith("“Quartet” before it runs on until Thu 4 March, 19:30")


def test_time_kept_for_service_gives_way_whole_and_the_bench_is_told_once() -> None:
    hall, tech = make_room(), make_person(Role.TECH)
    oak = make_preamp("Oak", 2, home_room=hall)
    session = make_session(hall, "10:00", "18:00", turnaround_minutes=0)
    plan = save_plan(
        tech,
        ServicePlan(
            what="Line-up", unit=oak, every_days=30, minutes=60, takes_room=True, starts_on=NOW.date()
        ),
    )
    kept = Span(at("2027-03-04 18:30"), at("2027-03-04 19:30"))
    assert take_slot(tech, plan, f"unit-{oak.pk}", kept.start) == kept
    ways = running_on(late(session), NOW)
    assert ways.most is None
    line = "Takes the time kept for “Line-up” (Weaving Hall, Thu 4 March, 18:30); the bench is told."
    assert [line in way.sentences for way in ways.options[:2]] == [False, True]
    with time_machine.travel(NOW, tick=False):
        engineer = make_person(Role.ENGINEER)
        run_on(engineer, session.pk, session.version, at("2027-03-04 18:30"))
        assert Claim.objects.of(plan).count() == 4  # two channels, the unit and its room
        run_on(engineer, session.pk, late(session).version, at("2027-03-04 19:00"))
    assert not Claim.objects.of(plan).exists()
    letter = Notice.objects.get()
    assert letter.person == tech
    assert "“Quartet” runs on until Thu 4 March, 19:00." in letter.text


def test_it_is_refused_when_it_does_not_run_or_is_booked_that_long_already() -> None:
    session = make_session(make_room(), "10:00", "18:00")
    with pytest.raises(CantRunOn, match="isn't running"):
        run_on(manager(), session.pk, session.version, at("2027-03-04 19:00"))
    with time_machine.travel(NOW, tick=False):
        with pytest.raises(CantRunOn, match="booked until"):
            run_on(manager(), session.pk, session.version, at("2027-03-04 17:30"))
        for nowhere in ("2027-03-05 00:01", "2027-04-04 19:00", "9999-12-30 00:00"):
            with pytest.raises(CantRunOn, match="isn't one of the times"):
                run_on(manager(), session.pk, session.version, at(nowhere))
        with pytest.raises(CantRunOn, match="isn't one of the times"):
            run_on(manager(), session.pk, session.version, at("2027-03-04 18:30") + timedelta(seconds=0.5))
        with pytest.raises(PermissionDenied):
            run_on(make_person(Role.ASSISTANT), session.pk, session.version, at("2027-03-04 19:00"))


def test_a_hold_gives_way_only_for_a_written_reason() -> None:
    hall = make_room()
    session = make_session(hall, "10:00", "18:00")
    make_session(hall, "18:30", "20:00", title="Duo", status=Session.Status.HELD)
    with time_machine.travel(NOW, tick=False):
        ways = running_on(late(session), NOW)
        assert "Duo" in ways.options[1].holds[0]
        with pytest.raises(PastHolds):
            run_on(manager(), session.pk, session.version, at("2027-03-04 19:00"))
        run_on(manager(), session.pk, session.version, at("2027-03-04 19:00"), "the take is close")


def test_the_page_says_it_all_and_the_press_goes_through() -> None:
    hall = make_room()
    session = make_session(hall, "10:00", "18:00")
    make_session(hall, "20:00", "23:00", title="Choir")
    desk = browser_of(manager())
    with time_machine.travel(NOW, tick=False):
        assert "May it go on?" in said(desk.get(f"/sessions/{session.pk}"))
        page = desk.get(f"/sessions/{session.pk}/run-on")
        assert "Yes, at most until Thu 4 March, 20:00" in said(page)
        assert "Until 18:30 45.00 EUR more than booked" in said(page)
        typed = {"version": session.version, "until": "2027-03-04T19:00:00+01:00"}
        done = desk.post(f"/sessions/{session.pk}/run-on", typed, follow=True)
        assert "It goes on until Thu 4 March, 19:00." in said(done)
        again = desk.post(f"/sessions/{session.pk}/run-on", typed)
        assert again.status_code == 422
        assert "is booked until Thu 4 March, 19:00 already" in said(again)
        for rubbish in ("", "soon", "2027-03-04T19:00"):
            told = desk.post(f"/sessions/{session.pk}/run-on", {"version": "x", "until": rubbish})
            assert "Choose until when it goes on." in said(told)
