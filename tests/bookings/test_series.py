"""Sessions that repeat are booked all or nothing, each seen with what is in its way before."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings.booking import Stale
from bookings.ladder import PastHolds
from bookings.models import Series, Session, SessionKind
from bookings.series.booking import InTheWay, preview, repeat
from studio.models import Claim, Role
from tests.bookings.cast import called, make_session, manager
from tests.bookings.series_cast import WEEKLY, fresh
from tests.house import at, make_person, make_room

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(at("2027-03-01 12:00"), tick=False):
        yield


def test_a_residency_is_booked_with_its_hours_people_and_rooms() -> None:
    anna = make_person(Role.ENGINEER)
    first = make_session(make_room(), "19:00", "23:00", crew=[called(anna)], setup_minutes=30)
    series = repeat(manager(), first.pk, first.version, WEEKLY, [])
    found = list(series.sessions.with_all().order_by("occurrence"))
    assert [s.load_in for s in found] == [at(f"2027-03-{day:02} 19:00") for day in (4, 11, 18, 25)]
    assert {s.crew.get().person for s in found} == {anna}
    assert Claim.objects.firm().filter(resource=anna.resource).count() == 4
    assert fresh(first).history.get(what="repeats").words.endswith("4 times: 4 sessions.")


def test_every_taken_day_is_named_and_nothing_is_booked_until_it_is_left_out() -> None:
    hall = make_room()
    make_session(hall, "2027-03-18 20:00", "2027-03-18 21:00", title="Choir")
    first = make_session(hall, "19:00", "23:00")
    plans = preview(fresh(first), WEEKLY)
    assert [plan.free for plan in plans] == [True, True, False, True]
    assert "“Choir”" in plans[2].in_the_way[0]
    with pytest.raises(InTheWay):
        repeat(manager(), first.pk, first.version, WEEKLY, [])
    assert (Session.objects.count(), Series.objects.count()) == (2, 0)
    series = repeat(manager(), first.pk, first.version, WEEKLY, [plans[2].key])
    assert series.sessions.count() == 3
    assert series.days_left_out == [at("2027-03-18 19:00")]


def test_holds_there_are_named_and_give_way_only_for_a_reason() -> None:
    hall = make_room()
    first = make_session(hall, "19:00", "23:00")
    hold = make_session(hall, "2027-03-11 20:00", "2027-03-11 21:00", status=Session.Status.HELD)
    assert "first hold" in preview(fresh(first), WEEKLY)[1].holds[0]
    with pytest.raises(PastHolds):
        repeat(manager(), first.pk, first.version, WEEKLY, [])
    repeat(manager(), first.pk, first.version, WEEKLY, [], "residency agreed")
    hold.refresh_from_db()
    assert hold.cancelled


def test_a_second_press_gives_the_first_series() -> None:
    first = make_session(make_room(), "19:00", "23:00")
    one = repeat(manager(), first.pk, first.version, WEEKLY, [])
    assert repeat(manager(), first.pk, first.version, WEEKLY, []) == one
    with pytest.raises(Stale):
        repeat(manager(), first.pk, first.version, "FREQ=DAILY;COUNT=2", [])
    assert Session.objects.count() == 4


def test_a_preview_of_many_takes_as_many_queries_as_one_of_few() -> None:
    first = fresh(make_session(make_room(), "19:00", "23:00", crew=[called(make_person(Role.ENGINEER))]))

    def queries(rule: str) -> int:
        with CaptureQueriesContext(connection) as captured:
            preview(first, rule)
        return len(captured)

    assert queries("FREQ=DAILY;COUNT=2") == queries("FREQ=DAILY;COUNT=90")


def test_closures_and_tunings_repeat_as_well() -> None:
    hall = make_room()
    kind = SessionKind.objects.get(nature=SessionKind.Nature.UPKEEP)
    first = make_session(hall, "08:00", "09:00", kind=kind, title="Tuner")
    series = repeat(manager(), first.pk, first.version, "FREQ=WEEKLY;INTERVAL=2;COUNT=3", [])
    assert Claim.objects.filter(purpose=Claim.Purpose.UPKEEP).count() == 3
    assert series.sessions.last().kind == kind


def test_what_a_clock_change_does_to_an_occurrence_is_said() -> None:
    """28 March 2027 has 02:00 to 03:00 skipped, 31 October 02:00 to 03:00 twice, in Berlin (IANA tz database)."""
    night = make_session(make_room(), "2027-03-27 22:00", "2027-03-28 06:00")
    assert [plan.clock for plan in preview(fresh(night), "FREQ=DAILY;COUNT=2")] == [
        "",
        "8 h long instead of 7 h, since the clocks change",
    ]
    late = make_session(make_room("Loft"), "2027-03-26 22:00", "2027-03-27 02:30")
    assert preview(fresh(late), "FREQ=DAILY;COUNT=2")[1].clock == (
        "at its end, the clock skips 02:30: 03:30 that day"
    )
    gone = make_session(make_room("Kiln"), "2027-03-27 02:30", "2027-03-27 03:15")
    plan = preview(fresh(gone), "FREQ=DAILY;COUNT=2")[1]
    assert (plan.draft.load_in, plan.draft.end) == (at("2027-03-28 03:30"), at("2027-03-28 04:15"))
    twice = make_session(make_room("Mill"), "2027-10-30 02:30", "2027-10-30 05:00")
    assert preview(fresh(twice), "FREQ=DAILY;COUNT=2")[1].clock == (
        "the clock shows 02:30 twice: the first; 3 h 30 min long instead of 2 h 30 min, since the clocks change"
    )


def test_a_session_longer_than_its_repeats_are_apart_is_in_its_own_way() -> None:
    first = make_session(make_room(), "10:00", "2027-03-05 12:00")
    plans = preview(fresh(first), "FREQ=DAILY;COUNT=3")
    assert [plan.free for plan in plans] == [True, False, False]
    with pytest.raises(InTheWay):
        repeat(manager(), first.pk, first.version, "FREQ=DAILY;COUNT=3", [])


def test_a_rule_without_an_end_is_booked_as_far_as_the_house_books() -> None:
    first = make_session(make_room(), "10:00", "12:00")
    rule = "FREQ=MONTHLY;INTERVAL=6"
    series = repeat(manager(), first.pk, first.version, rule, [])
    assert repeat(manager(), first.pk, first.version, rule, []) == series
    assert [s.load_in for s in series.sessions.order_by("load_in")] == [
        at(f"{day} 10:00") for day in ("2027-03-04", "2027-09-04", "2028-03-04", "2028-09-04")
    ] + [at("2029-03-04 10:00")]
