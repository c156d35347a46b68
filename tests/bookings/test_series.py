"""Sessions that repeat: by RRULE, on the wall clock, all or nothing, with edits of some or all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import time_machine
from dateutil.rrule import rrulestr
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given, settings
from hypothesis import strategies as st

from bookings.booking import Stale, cancel, change
from bookings.drafts import as_draft
from bookings.ladder import PastHolds
from bookings.models import Series, Session, SessionKind
from bookings.series.booking import InTheWay, Scope, cancel_series, change_series, preview, repeat
from bookings.series.rules import RuleRefused, begun_later, ended_before, occurrences
from bookings.series.shape import Kept, shape_of
from bookings.series.words import rule_in_words
from bookings.sessions.forms import as_posted
from studio.models import Claim, Role
from tests.bookings.cast import browser_of, called, make_session, manager, said
from tests.house import BERLIN, at, make_person, make_room

WEEKLY = "FREQ=WEEKLY;COUNT=4"
NOW = at("2027-03-01 12:00")


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def fresh(session: Session) -> Session:
    return Session.objects.with_all().get(pk=session.pk)


def starts(rule: str, first: str, zone: str = "Europe/Berlin") -> list[str]:
    tz = ZoneInfo(zone)
    found = occurrences(rule, at(first, tz), tz)
    return [f"{each.load_in.astimezone(tz):%Y-%m-%d %H:%M}" for each in found]


# RFC 5545 section 3.8.5.3, examples, with DTSTART in the year 2027 and later for the zone's sake
RFC_EXAMPLES = [
    ("FREQ=DAILY;COUNT=10", 10),
    ("FREQ=DAILY;INTERVAL=10;COUNT=5", 5),
    ("FREQ=WEEKLY;COUNT=10", 10),
    ("FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH", 10),
    ("FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH", 8),
    ("FREQ=MONTHLY;COUNT=10;BYDAY=1FR", 10),
    ("FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU", 10),
    ("FREQ=MONTHLY;COUNT=6;BYDAY=-2MO", 6),
    ("FREQ=MONTHLY;COUNT=6;BYMONTHDAY=-3", 6),
    ("FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15", 10),
    ("FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1", 10),
    ("FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3", 3),
    ("FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO", 4),
    ("FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU", 4),
]


@pytest.mark.parametrize(("rule", "count"), RFC_EXAMPLES)
def test_the_examples_of_rfc_5545_agree_with_dateutil(rule: str, count: int) -> None:
    given = datetime(2027, 9, 2, 9, 0)  # noqa: DTZ001 a wall time
    first = rrulestr(rule, dtstart=given)[0]  # a session that fits the rule is its first
    expected = [f"{wall:%Y-%m-%d %H:%M}" for wall in rrulestr(rule, dtstart=first)]
    assert starts(rule, f"{first:%Y-%m-%d %H:%M}") == expected
    assert len(expected) == count


@settings(max_examples=60, deadline=None)
@given(
    every=st.sampled_from(["DAILY", "WEEKLY", "MONTHLY", "YEARLY"]),
    interval=st.integers(1, 4),
    count=st.integers(1, 20),
    days=st.sets(st.sampled_from(["MO", "TU", "WE", "TH", "FR", "SA", "SU"]), max_size=3),
    first=st.datetimes(datetime(2026, 1, 1), datetime(2028, 1, 1)),  # noqa: DTZ001
    zone=st.sampled_from(["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "America/Santiago"]),
)
def test_any_rule_agrees_with_dateutil_on_the_wall_clock(
    every: str, interval: int, count: int, days: set[str], first: datetime, zone: str
) -> None:
    wall = first.replace(hour=12, second=0, microsecond=0)  # noon: no zone changes its clock then
    rule = f"FREQ={every};INTERVAL={interval};COUNT={count}"
    rule += f";BYDAY={','.join(sorted(days))}" if days and every in ("WEEKLY", "DAILY") else ""
    wall = rrulestr(rule, dtstart=wall)[0]
    expected = list(rrulestr(rule, dtstart=wall))
    tz = ZoneInfo(zone)
    try:
        found = occurrences(rule, wall.replace(tzinfo=tz), tz)
    except RuleRefused:
        assert expected[-1] - wall > timedelta(days=731)
        return
    assert [each.load_in.astimezone(tz).replace(tzinfo=None) for each in found] == expected


def test_a_weekly_evening_keeps_its_hour_over_the_clock_change() -> None:
    """Field case F06: weekly Tuesday 19:00 in Berlin, from 6 October to 10 November 2026."""
    found = occurrences("FREQ=WEEKLY;COUNT=6", at("2026-10-06 19:00"), BERLIN)
    assert [each.load_in.hour for each in found] == [17, 17, 17, 18, 18, 18]


def test_what_the_clock_skips_or_shows_twice_is_said() -> None:
    # Europe/Berlin: 28 March 2027 02:00 to 03:00, 31 October 2027 03:00 to 02:00 (IANA tz database)
    spring = occurrences("FREQ=DAILY;COUNT=3", at("2027-03-27 02:30"), BERLIN)
    assert spring[1].clock == "the clock skips 02:30: 03:30 that day"
    autumn = occurrences("FREQ=DAILY;COUNT=3", at("2027-10-30 02:30"), BERLIN)
    assert autumn[1].clock == "the clock shows 02:30 twice: the first"
    assert (spring[2].clock, autumn[2].clock) == ("", "")


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ("FREQ=WEEKLY", "add COUNT or UNTIL"),
        ("FREQ=DAILY;COUNT=900", "more than 200"),
        ("FREQ=MONTHLY;COUNT=60", "smaller COUNT"),
        ("FREQ=WEEKLY;UNTIL=20400101", "Two years ahead"),
        ("FREQ=HOURLY;COUNT=3", "repeat by days"),
        ("FREQ=DAILY;BYHOUR=3;COUNT=3", "Take the hours out"),
        ("FREQ=DAILY;COUNT=3;UNTIL=20270401", "either COUNT or UNTIL"),
        ("FREQ=DAILY;UNTIL=soon", "UNTIL can't be read"),
        ("every Tuesday", "can't be used"),
        ("FREQ=WEEKLY;INTERVAL=0", "INTERVAL must be"),
    ],
)
def test_a_rule_that_no_house_can_book_is_refused_in_a_sentence(rule: str, words: str) -> None:
    with pytest.raises(RuleRefused, match=words):
        starts(rule, "2027-03-02 10:00")


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ("FREQ=WEEKLY;INTERVAL=2;COUNT=5", "every second Tuesday, load-in 10:00, 5 times"),
        ("FREQ=DAILY;UNTIL=20270630", "every day, load-in 10:00, until 30 June 2027"),
        ("FREQ=WEEKLY;BYDAY=TU,TH;COUNT=4", "every week on Tuesday and Thursday, load-in 10:00, 4 times"),
        ("FREQ=MONTHLY;BYDAY=-1TU;COUNT=3", "every month on the last Tuesday, load-in 10:00, 3 times"),
        ("FREQ=MONTHLY;COUNT=3", "every month on day 2, load-in 10:00, 3 times"),
        ("FREQ=YEARLY;COUNT=2", "every year on 2 March, load-in 10:00, 2 times"),
    ],
)
def test_a_rule_is_said_in_words(rule: str, words: str) -> None:
    assert rule_in_words(rule, at("2027-03-02 10:00"), BERLIN) == words


def test_a_rule_is_ended_and_begun_anew() -> None:
    ended = ended_before("FREQ=WEEKLY;COUNT=10", at("2027-03-16 10:00"))
    assert starts(ended, "2027-03-02 10:00") == ["2027-03-02 10:00", "2027-03-09 10:00"]
    turned = begun_later("FREQ=WEEKLY;BYDAY=TU,SU;COUNT=10", 8, timedelta(days=1))
    assert turned == "FREQ=WEEKLY;COUNT=8;BYDAY=MO,WE"
    assert begun_later("FREQ=MONTHLY;BYDAY=3TU;COUNT=10", 8, timedelta(days=1)) is None
    assert begun_later("FREQ=MONTHLY;BYDAY=3TU;COUNT=10", 8, timedelta(hours=2)) is not None


def test_the_shape_of_a_series_tells_the_regular_from_the_moved_and_the_left_out() -> None:
    days = [at(f"2027-03-{day:02} 10:00") for day in (2, 9, 16, 23)]
    kept = [Kept(1, days[0], "a"), Kept(2, days[1], "moved"), Kept(4, days[3], "a")]
    shape = shape_of(WEEKLY, days[0], BERLIN, kept)
    assert shape
    assert (shape.regular, shape.overrides, shape.left_out) == (frozenset({1, 4}), (2,), (days[2],))
    assert shape_of(WEEKLY, days[0], BERLIN, kept[1:]) is None


@pytest.mark.django_db
class TestBooked:
    def test_a_residency_is_booked_with_its_hours_people_and_rooms(self) -> None:
        anna = make_person(Role.ENGINEER)
        first = make_session(make_room(), "19:00", "23:00", crew=[called(anna)], setup_minutes=30)
        series = repeat(manager(), first.pk, first.version, WEEKLY, [])
        found = list(series.sessions.with_all().order_by("occurrence"))
        assert [s.load_in for s in found] == [at(f"2027-03-{day:02} 19:00") for day in (4, 11, 18, 25)]
        assert {s.crew.get().person for s in found} == {anna}
        assert Claim.objects.firm().filter(resource=anna.resource).count() == 4
        assert fresh(first).history.get(what="repeats").words.endswith("4 times: 4 sessions.")

    def test_every_taken_day_is_named_and_nothing_is_booked_until_it_is_left_out(self) -> None:
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

    def test_holds_there_are_named_and_give_way_only_for_a_reason(self) -> None:
        hall = make_room()
        first = make_session(hall, "19:00", "23:00")
        hold = make_session(hall, "2027-03-11 20:00", "2027-03-11 21:00", status=Session.Status.HELD)
        assert "first hold" in preview(fresh(first), WEEKLY)[1].holds[0]
        with pytest.raises(PastHolds):
            repeat(manager(), first.pk, first.version, WEEKLY, [])
        repeat(manager(), first.pk, first.version, WEEKLY, [], "residency agreed")
        hold.refresh_from_db()
        assert hold.cancelled

    def test_a_second_press_gives_the_first_series(self) -> None:
        first = make_session(make_room(), "19:00", "23:00")
        one = repeat(manager(), first.pk, first.version, WEEKLY, [])
        assert repeat(manager(), first.pk, first.version, WEEKLY, []) == one
        with pytest.raises(Stale):
            repeat(manager(), first.pk, first.version, "FREQ=DAILY;COUNT=2", [])
        assert Session.objects.count() == 4

    def test_a_preview_of_many_takes_as_many_queries_as_one_of_few(self) -> None:
        first = fresh(make_session(make_room(), "19:00", "23:00", crew=[called(make_person(Role.ENGINEER))]))

        def queries(rule: str) -> int:
            with CaptureQueriesContext(connection) as captured:
                preview(first, rule)
            return len(captured)

        assert queries("FREQ=DAILY;COUNT=2") == queries("FREQ=DAILY;COUNT=90")

    def test_closures_and_tunings_repeat_as_well(self) -> None:
        hall = make_room()
        kind = SessionKind.objects.get(nature=SessionKind.Nature.UPKEEP)
        first = make_session(hall, "08:00", "09:00", kind=kind, title="Tuner")
        series = repeat(manager(), first.pk, first.version, "FREQ=WEEKLY;INTERVAL=2;COUNT=3", [])
        assert Claim.objects.filter(purpose=Claim.Purpose.UPKEEP).count() == 3
        assert series.sessions.last().kind == kind


@pytest.mark.django_db
class TestChanged:
    def weekly(self, **fields: object) -> list[Session]:
        first = make_session(make_room(), "19:00", "23:00", **fields)
        repeat(manager(), first.pk, first.version, WEEKLY, [])
        return list(Session.objects.with_all().order_by("load_in"))

    def test_this_one_keeps_its_place_in_the_series(self) -> None:
        _, second, *_ = self.weekly()
        draft = as_draft(second).moved(
            *(t + timedelta(hours=1) for t in (second.load_in, second.downbeat)), second.end
        )
        moved = change(manager(), second.pk, second.version, draft)
        assert moved.occurrence == at("2027-03-11 19:00")
        assert moved.load_in == at("2027-03-11 20:00")

    def test_this_and_the_following_split_the_rule_and_keep_every_session(self) -> None:
        sessions = self.weekly()
        third = sessions[2]
        draft = replace(
            as_draft(third).moved(at("2027-03-18 18:00"), at("2027-03-18 18:00"), at("2027-03-18 22:00")),
            title="Late quartet",
        )
        change_series(manager(), third.pk, third.version, draft, Scope.FOLLOWING)
        found = list(Session.objects.select_related("series").order_by("load_in"))
        assert [s.title for s in found] == ["Quartet", "Quartet", "Late quartet", "Late quartet"]
        # the clocks go forward on 28 March 2027; the 25th is still winter time
        assert [s.load_in for s in found[2:]] == [at("2027-03-18 18:00"), at("2027-03-25 18:00")]
        old, new = found[0].series, found[2].series
        assert old
        assert new
        assert new.follows == old
        assert starts(old.rule, "2027-03-04 19:00") == ["2027-03-04 19:00", "2027-03-11 19:00"]
        assert starts(new.rule, "2027-03-18 18:00") == ["2027-03-18 18:00", "2027-03-25 18:00"]
        assert all(s.occurrence == s.load_in for s in found)

    def test_all_move_by_a_day_onto_each_other_s_old_places(self) -> None:
        first = make_session(make_room(), "10:00", "22:00")
        repeat(manager(), first.pk, first.version, "FREQ=DAILY;COUNT=5", [])
        first = fresh(first)
        draft = as_draft(first).moved(
            *(t + timedelta(days=1) for t in (first.load_in, first.downbeat, first.end))
        )
        change_series(manager(), first.pk, first.version, draft, Scope.ALL)
        found = Session.objects.order_by("load_in")
        assert [s.load_in for s in found] == [at(f"2027-03-{day:02} 10:00") for day in range(5, 10)]
        assert Series.objects.count() == 1

    def test_what_one_has_of_its_own_stays_its_own(self) -> None:
        sessions = self.weekly()
        change(manager(), sessions[1].pk, 1, replace(as_draft(sessions[1]), title="With guests"))
        first = fresh(sessions[0])
        draft = replace(as_draft(first), title="Residency", note="Key under the mat")
        change_series(manager(), first.pk, first.version, draft, Scope.ALL)
        found = list(Session.objects.order_by("load_in"))
        assert [s.title for s in found] == ["Residency", "With guests", "Residency", "Residency"]
        assert {s.note for s in found} == {"Key under the mat"}

    def test_one_that_is_taken_stops_them_all(self) -> None:
        sessions = self.weekly()
        loft = make_room("Loft")
        make_session(loft, "2027-03-18 20:00", "2027-03-18 21:00", title="Choir")
        draft = replace(as_draft(sessions[0]), room=loft)
        with pytest.raises(InTheWay) as taken:
            change_series(manager(), sessions[0].pk, sessions[0].version, draft, Scope.ALL)
        assert [plan.free for plan in taken.value.plans] == [True, True, False, True]
        assert {s.room.name for s in Session.objects.exclude(title="Choir")} == {"Weaving Hall"}

    def test_cancelling_the_following_ends_the_rule_and_frees_them(self) -> None:
        sessions = self.weekly()
        done = cancel_series(
            manager(), sessions[2].pk, sessions[2].version, Scope.FOLLOWING, "tour", "client"
        )
        assert [s.pk for s in done] == [s.pk for s in sessions[2:]]
        series = Series.objects.get()
        assert len(starts(series.rule, "2027-03-04 19:00")) == 2
        assert Claim.objects.of(fresh(sessions[3])).count() == 0

    def test_what_is_over_is_never_changed(self) -> None:
        sessions = self.weekly()
        with time_machine.travel(at("2027-03-12 09:00"), tick=False):
            third = fresh(sessions[2])
            change_series(
                manager(), third.pk, third.version, replace(as_draft(third), title="Late"), Scope.ALL
            )
        assert [s.title for s in Session.objects.order_by("load_in")] == [
            "Quartet",
            "Quartet",
            "Late",
            "Late",
        ]

    def test_a_cancelled_one_is_left_alone(self) -> None:
        sessions = self.weekly()
        cancel(manager(), sessions[1].pk, sessions[1].version, "ill")
        first = fresh(sessions[0])
        change_series(manager(), first.pk, first.version, replace(as_draft(first), title="Late"), Scope.ALL)
        assert [s.title for s in Session.objects.order_by("load_in")] == ["Late", "Quartet", "Late", "Late"]


@pytest.mark.django_db
def test_the_pages_show_every_occurrence_before_it_is_booked() -> None:
    hall = make_room()
    make_session(hall, "2027-03-18 20:00", "2027-03-18 21:00", title="Choir")
    first = make_session(hall, "19:00", "23:00")
    desk = browser_of(manager())
    typed = {"every": "1", "unit": "WEEKLY", "count": "4", "version": first.version}
    page = desk.post(f"/sessions/{first.pk}/repeat", typed)
    assert "Every Thursday, load-in 19:00, 4 times" in said(page)
    assert "1 of them taken" in said(page)
    assert Session.objects.count() == 2
    key = next(plan.key for plan in page.context["plans"] if not plan.free)
    again = desk.post(f"/sessions/{first.pk}/repeat", typed | {"book": "yes"})
    assert "Some of these are taken." in said(again)
    done = desk.post(f"/sessions/{first.pk}/repeat", typed | {"book": "yes", "left_out": key}, follow=True)
    assert "Thu 18 March, 19:00" in said(done).partition("Left out")[2]
    assert "One of a series: every Thursday" in said(desk.get(f"/sessions/{first.pk}"))
    wrong = desk.post(f"/sessions/{make_session(make_room('Kiln')).pk}/repeat", {"every": "x"})
    assert "Write a whole number, like 2." in said(wrong)


@pytest.mark.django_db
def test_many_are_changed_and_cancelled_from_their_pages() -> None:
    first = make_session(make_room(), "19:00", "23:00")
    repeat(manager(), first.pk, first.version, WEEKLY, [])
    desk, address = browser_of(manager()), f"/sessions/{first.pk}/change-series"
    assert "You are changing many at once." in said(desk.get(address))
    typed = as_posted(fresh(first)).copy()
    typed["title"], typed["scope"] = "Residency", "all"
    look = desk.post(address, typed)
    assert "Nothing is in their way." in said(look)
    assert Session.objects.filter(title="Residency").count() == 0
    typed["sure"] = "yes"
    desk.post(address, typed)
    assert Session.objects.filter(title="Residency").count() == 4
    page = desk.get(f"/sessions/{first.pk}/cancel-series")
    assert "All that aren't over: 4 sessions" in said(page)
    typed = {"scope": "all", "by_whom": "house", "because": "works", "version": fresh(first).version}
    desk.post(f"/sessions/{first.pk}/cancel-series", typed)
    assert not Session.objects.standing().exists()
