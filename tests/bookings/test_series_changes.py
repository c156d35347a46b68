"""This one, this and the following, or all of a series: what becomes of each of them, and of the rule."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings.booking import Called, cancel, change
from bookings.drafts import as_draft
from bookings.models import Series, Session
from bookings.series.booking import InTheWay, Scope, cancel_series, change_series, repeat
from bookings.series.planning import IMPOSSIBLE
from bookings.series.scopes import preview_change, targets
from studio.models import Claim, Role
from tests.bookings.cast import called, make_session, manager
from tests.bookings.series_cast import days_of, four_evenings, fresh, later
from tests.house import BERLIN, at, make_person, make_room, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(at("2027-03-01 12:00"), tick=False):
        yield


def test_this_one_keeps_its_place_in_the_series() -> None:
    _, second, *_ = four_evenings()
    moved = change(manager(), second.pk, second.version, later(second, 1))
    assert moved.occurrence == at("2027-03-11 19:00")
    assert moved.load_in == at("2027-03-11 20:00")


def test_this_and_the_following_split_the_rule_and_keep_every_session() -> None:
    sessions = four_evenings()
    third = sessions[2]
    draft = replace(later(third, -1), title="Late quartet")
    change_series(manager(), third.pk, third.version, draft, Scope.FOLLOWING)
    found = list(Session.objects.select_related("series").order_by("load_in"))
    assert [s.title for s in found] == ["Quartet", "Quartet", "Late quartet", "Late quartet"]
    assert [s.load_in for s in found[2:]] == [at("2027-03-18 18:00"), at("2027-03-25 18:00")]
    old, new = found[0].series, found[2].series
    assert old
    assert new
    assert new.follows == old
    assert days_of(old) == [at("2027-03-04 19:00"), at("2027-03-11 19:00")]
    assert days_of(new) == [at("2027-03-18 18:00"), at("2027-03-25 18:00")]
    assert {s.pk for s in found} == {s.pk for s in sessions}
    assert all(s.occurrence == s.load_in for s in found)


def test_all_move_by_a_day_onto_each_other_s_old_places() -> None:
    first = make_session(make_room(), "10:00", "22:00")
    repeat(manager(), first.pk, first.version, "FREQ=DAILY;COUNT=5", [])
    first = fresh(first)
    change_series(manager(), first.pk, first.version, later(first, 24), Scope.ALL)
    found = Session.objects.order_by("load_in")
    assert [s.load_in for s in found] == [at(f"2027-03-{day:02} 10:00") for day in range(5, 10)]
    assert Series.objects.count() == 1


def test_what_one_has_of_its_own_stays_its_own() -> None:
    sessions = four_evenings()
    change(manager(), sessions[1].pk, 1, replace(as_draft(sessions[1]), title="With guests"))
    first = fresh(sessions[0])
    draft = replace(as_draft(first), title="Residency", note="Key under the mat")
    keeps = [target.keeps for target in targets(first, draft, Scope.ALL)]
    assert keeps == [(), ("title",), (), ()]
    change_series(manager(), first.pk, first.version, draft, Scope.ALL)
    found = list(Session.objects.order_by("load_in"))
    assert [s.title for s in found] == ["Residency", "With guests", "Residency", "Residency"]
    assert {s.note for s in found} == {"Key under the mat"}


def test_one_that_is_taken_stops_them_all() -> None:
    sessions = four_evenings()
    loft = make_room("Loft")
    make_session(loft, "2027-03-18 20:00", "2027-03-18 21:00", title="Choir")
    draft = replace(as_draft(sessions[0]), room=loft)
    with pytest.raises(InTheWay) as taken:
        change_series(manager(), sessions[0].pk, sessions[0].version, draft, Scope.ALL)
    assert [plan.free for plan in taken.value.plans] == [True, True, False, True]
    assert {s.room.name for s in Session.objects.exclude(title="Choir")} == {"Weaving Hall"}


def test_cancelling_the_following_ends_the_rule_and_frees_them() -> None:
    sessions = four_evenings()
    done = cancel_series(manager(), sessions[2].pk, sessions[2].version, Scope.FOLLOWING, "tour", "client")
    assert [s.pk for s in done] == [s.pk for s in sessions[2:]]
    series = Series.objects.get()
    assert days_of(series) == [at("2027-03-04 19:00"), at("2027-03-11 19:00")]
    assert Claim.objects.of(fresh(sessions[3])).count() == 0


def test_what_is_over_is_never_changed() -> None:
    sessions = four_evenings()
    with time_machine.travel(at("2027-03-12 09:00"), tick=False):
        third = fresh(sessions[2])
        change_series(manager(), third.pk, third.version, replace(as_draft(third), title="Late"), Scope.ALL)
    assert [s.title for s in Session.objects.order_by("load_in")] == [
        "Quartet",
        "Quartet",
        "Late",
        "Late",
    ]


def test_a_cancelled_one_is_left_alone() -> None:
    sessions = four_evenings()
    cancel(manager(), sessions[1].pk, sessions[1].version, "ill")
    first = fresh(sessions[0])
    change_series(manager(), first.pk, first.version, replace(as_draft(first), title="Late"), Scope.ALL)
    assert [s.title for s in Session.objects.order_by("load_in")] == ["Late", "Quartet", "Late", "Late"]


def test_another_title_from_one_on_splits_the_series_as_well() -> None:
    sessions = four_evenings()
    third = sessions[2]
    change_series(manager(), third.pk, third.version, replace(as_draft(third), title="Trio"), Scope.FOLLOWING)
    found = list(Session.objects.select_related("series").order_by("load_in"))
    assert [s.title for s in found] == ["Quartet", "Quartet", "Trio", "Trio"]
    assert found[2].series.follows == found[0].series
    assert [len(days_of(s.series)) for s in found] == [2, 2, 2, 2]
    words = fresh(found[3]).history.get(what="series").words
    assert words == "Changed with others of its series: this one and the following."


def test_the_first_and_the_following_are_all_of_them_and_nothing_is_split() -> None:
    first = four_evenings()[0]
    change_series(manager(), first.pk, first.version, replace(as_draft(first), title="Trio"), Scope.FOLLOWING)
    assert Series.objects.count() == 1
    assert set(Session.objects.values_list("title", flat=True)) == {"Trio"}


def test_days_left_out_go_with_the_part_that_they_belong_to() -> None:
    first = make_session(make_room(), "19:00", "23:00")
    keys = [
        at("2027-03-05 19:00").astimezone(UTC).isoformat(),
        at("2027-03-09 19:00").astimezone(UTC).isoformat(),
    ]
    repeat(manager(), first.pk, first.version, "FREQ=DAILY;COUNT=8", keys)
    fourth = Session.objects.with_all().get(occurrence=at("2027-03-07 19:00"))
    change_series(manager(), fourth.pk, fourth.version, later(fourth, 24), Scope.FOLLOWING)
    old, new = Series.objects.order_by("starts")
    assert old.days_left_out == [at("2027-03-05 19:00")]
    assert new.days_left_out == [at("2027-03-10 19:00")]
    assert set(days_of(new)) - set(new.days_left_out) == {s.load_in for s in new.sessions.all()}


def test_people_come_go_and_change_their_part_in_all_of_them() -> None:
    anna, ben, cleo = (make_person(Role.ENGINEER, Role.ASSISTANT) for _ in range(3))
    early = Called(ben.pk, Role.ASSISTANT, at("2027-03-04 16:00"))
    first = four_evenings(crew=[called(anna), early])[0]
    crew = (replace(called(anna), assigned=False), early, called(cleo))
    change_series(manager(), first.pk, first.version, replace(as_draft(first), crew=crew), Scope.ALL)
    for session in Session.objects.with_all():
        here = {c.person: (c.role, c.assigned, session.load_in - c.call_at) for c in session.crew.all()}
        assert here[anna][:2] == (Role.ENGINEER, False)
        assert here[ben] == (Role.ASSISTANT, True, timedelta(hours=3))
        assert here[cleo][:2] == (Role.ENGINEER, True)


def test_who_has_hours_of_their_own_keeps_them_while_all_move() -> None:
    ben = make_person(Role.ASSISTANT)
    first = four_evenings(crew=[Called(ben.pk, Role.ASSISTANT, at("2027-03-04 16:00"))])[0]
    change_series(manager(), first.pk, first.version, later(first, 1), Scope.ALL)
    assert {s.load_in - s.crew.get().call_at for s in Session.objects.all()} == {timedelta(hours=3)}


def test_times_that_would_end_before_they_begin_are_said_before_saving() -> None:
    first, second, *_ = four_evenings()
    short = as_draft(second).moved(second.load_in, second.downbeat, second.load_in + timedelta(hours=1))
    change(manager(), second.pk, second.version, short)
    draft = replace(as_draft(first), end=first.end - timedelta(hours=2))
    with pytest.raises(InTheWay) as refused:
        change_series(manager(), first.pk, first.version, draft, Scope.ALL)
    assert refused.value.plans[1].in_the_way == [IMPOSSIBLE]
    assert [plan.free for plan in refused.value.plans] == [True, False, True, True]


def test_stretched_onto_each_other_they_are_in_each_other_s_way() -> None:
    first = make_session(make_room(), "10:00", "22:00")
    repeat(manager(), first.pk, first.version, "FREQ=DAILY;COUNT=3", [])
    first = fresh(first)
    draft = replace(as_draft(first), end=first.end + timedelta(hours=20))
    with pytest.raises(InTheWay) as refused:
        change_series(manager(), first.pk, first.version, draft, Scope.ALL)
    said = ["Weaving Hall is wanted by another one of the series at that time."]
    assert [plan.in_the_way for plan in refused.value.plans] == [[], said, said]


def test_who_is_taken_only_at_the_last_moment_is_said_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody took the room between the look and the saving: as if the look had seen nothing."""
    sessions = four_evenings()
    loft = make_room("Loft")
    make_session(loft, "2027-03-18 20:00", "2027-03-18 21:00", title="Choir")
    monkeypatch.setattr("bookings.series.planning.clashes_with", lambda wanted: [])
    draft = replace(as_draft(sessions[0]), room=loft)
    with pytest.raises(InTheWay) as refused:
        change_series(manager(), sessions[0].pk, sessions[0].version, draft, Scope.ALL)
    assert [plan.free for plan in refused.value.plans] == [True, True, False, True]
    assert "“Choir”" in refused.value.plans[2].in_the_way[0]
    assert set(Session.objects.values_list("room__name", flat=True)) == {"Weaving Hall", "Loft"}
    assert Session.objects.filter(room=loft).count() == 1


def test_what_changes_nothing_for_an_occurrence_leaves_it_alone() -> None:
    first, second, *_ = four_evenings()
    change(manager(), second.pk, second.version, replace(as_draft(second), title="With guests"))
    version = fresh(second).version
    draft = replace(as_draft(first), title="Residency")
    done = change_series(manager(), first.pk, first.version, draft, Scope.ALL)
    assert second.pk not in {s.pk for s in done}
    assert fresh(second).version == version


def test_moved_to_a_house_in_another_zone_the_hours_are_those_of_its_clock() -> None:
    """Berlin changes its clock on 28 March 2027, New York on 14 March (IANA tz database)."""
    first = four_evenings()[0]
    loft = make_room("Loft", make_site("Pier", "America/New_York"))
    new_york = loft.site.tz
    start, end = at("2027-03-04 19:00", new_york), at("2027-03-04 23:00", new_york)
    draft = replace(as_draft(first).moved(start, start, end), room=loft)
    change_series(manager(), first.pk, first.version, draft, Scope.ALL)
    walls = [at(f"2027-03-{day:02} 19:00", new_york) for day in (4, 11, 18, 25)]
    assert [s.load_in for s in Session.objects.order_by("load_in")] == walls
    series = Series.objects.get()
    assert (series.zone, days_of(series)) == ("America/New_York", walls)


def test_a_hold_of_many_stands_until_the_day_that_all_were_given() -> None:
    first = four_evenings(status=Session.Status.HELD)[0]
    draft = replace(as_draft(first), hold_until=date(2027, 3, 3))
    change_series(manager(), first.pk, first.version, draft, Scope.ALL)
    assert len(set(Session.objects.values_list("lapses_at", flat=True))) == 1
    assert fresh(first).lapses_at.astimezone(BERLIN).date() == date(2027, 3, 3)


def test_a_move_that_no_rule_says_keeps_each_its_place_in_the_series() -> None:
    first = make_session(
        make_room(), "19:00", "23:00"
    )  # October 2027 has its first Friday before its first Thursday
    series = repeat(manager(), first.pk, first.version, "FREQ=MONTHLY;BYDAY=1TH;COUNT=8", [])
    first = fresh(first)
    change_series(manager(), first.pk, first.version, later(first, 24), Scope.ALL)
    found = list(series.sessions.order_by("load_in"))
    assert [s.load_in for s in found] == [day + timedelta(days=1) for day in days_of(series)]
    assert [s.occurrence for s in found] == days_of(series)


def test_a_look_at_many_changes_asks_as_often_as_one_at_few() -> None:
    anna = make_person(Role.ENGINEER)

    def queries(room: str, count: int) -> int:
        first = make_session(make_room(room), "19:00", "20:00", crew=[replace(called(anna), assigned=False)])
        repeat(manager(), first.pk, first.version, f"FREQ=DAILY;COUNT={count}", [])
        session = fresh(first)
        with CaptureQueriesContext(connection) as captured:
            plans = preview_change(targets(session, later(session, 1), Scope.ALL))
        assert len(plans) == count
        return len(captured)

    assert queries("Loft", 2) == queries("Kiln", 15)
