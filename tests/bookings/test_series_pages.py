"""The pages of a series: everything is seen before it is saved, and what was typed is kept."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
import time_machine
from django.db import connection
from django.http import QueryDict
from django.test.utils import CaptureQueriesContext

from bookings.booking import change
from bookings.drafts import as_draft
from bookings.models import Job, Session
from bookings.series.booking import Scope, change_series, repeat
from bookings.sessions.forms import as_posted
from studio.models import Role
from tests.bookings.cast import browser_of, filled_in, make_job, make_session, manager, said
from tests.bookings.series_cast import four_evenings, fresh
from tests.house import at, make_person, make_room

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(at("2027-03-01 12:00"), tick=False):
        yield


def typed_for_all(session: Session, **fields: str) -> QueryDict:
    typed = as_posted(fresh(session))
    typed["scope"] = "all"
    for name, value in fields.items():
        typed[name] = value
    return typed


def test_every_occurrence_is_shown_before_it_is_booked() -> None:
    hall = make_room()
    make_session(hall, "2027-03-18 20:00", "2027-03-18 21:00", title="Choir")
    first = make_session(hall, "19:00", "23:00")
    desk, address = browser_of(manager()), f"/sessions/{first.pk}/repeat"
    typed = {"every": "1", "unit": "WEEKLY", "count": "4", "version": first.version}
    page = desk.post(address, typed | {"book": "yes"})
    assert "Every Thursday, 19:00 to 23:00, 4 times" in said(page)
    assert "1 of them taken" in said(page)
    assert Session.objects.count() == 2
    typed["seen"] = page.context["seen"]
    again = desk.post(address, typed | {"book": "yes"})
    assert "Some of these are taken." in said(again)
    key = next(plan.key for plan in page.context["plans"] if not plan.free)
    other = desk.post(address, typed | {"book": "yes", "left_out": key, "count": "5"})
    assert "5 sessions" in said(other)
    assert Session.objects.count() == 2
    done = desk.post(address, typed | {"book": "yes", "left_out": key}, follow=True)
    assert "Thu 18 March 2027, 19:00" in said(done).partition("Left out")[2]
    assert "One of a series: every Thursday, 19:00 to 23:00, 4 times" in said(
        desk.get(f"/sessions/{first.pk}")
    )


def test_what_can_not_be_read_of_a_rule_is_said_in_a_sentence() -> None:
    first = make_session(make_room(), "19:00", "23:00")
    desk, address = browser_of(manager()), f"/sessions/{first.pk}/repeat"
    assert "Write a whole number, like 2." in said(desk.post(address, {"every": "x"}))
    wrong = desk.post(address, {"every": "1", "unit": "DAILY", "rule": "each 🎸 Tuesday"})
    assert "The rule can't be used" in said(wrong)
    assert "each 🎸 Tuesday" in wrong.content.decode()
    long_ago = desk.post(address, {"every": "1", "unit": "DAILY", "until": "0001-01-01"})
    assert "That is this one session only." in said(long_ago)
    assert "one of the two" in said(desk.post(address, {"every": "1", "unit": "DAILY"}))
    endless = desk.post(address, {"every": "1", "unit": "DAILY", "rule": "FREQ=MONTHLY;BYDAY=1TH"})
    assert "at most 200 sessions and 2 years" in said(endless)
    assert "Every month on the first Thursday, 19:00 to 23:00, until 1 March 2029" in said(endless)


def test_somebody_else_changed_it_while_the_repeats_were_looked_at() -> None:
    first = make_session(make_room(), "19:00", "23:00")
    desk, address = browser_of(manager()), f"/sessions/{first.pk}/repeat"
    typed = {"every": "2", "unit": "WEEKLY", "count": "3", "version": first.version, "book": "yes"}
    typed["seen"] = desk.post(address, typed).context["seen"]
    change(manager(), first.pk, first.version, replace(as_draft(first), title="Trio"))
    page = desk.post(address, typed)
    assert "It was changed while this page was open." in said(page)
    assert page.context["form"]["every"].value() == "2"
    assert Session.objects.count() == 1
    desk.post(address, typed | {"version": page.context["form"]["version"].value()})
    assert list(Session.objects.values_list("title", flat=True)) == ["Trio"] * 3


def test_a_new_session_is_booked_and_then_repeated() -> None:
    desk = browser_of(manager())
    done = desk.post("/sessions/new", filled_in() | {"then": "repeat"})
    assert done.headers["Location"] == f"/sessions/{Session.objects.get().pk}/repeat"


def test_many_are_changed_once_they_were_seen() -> None:
    first = four_evenings()[0]
    desk, address = browser_of(manager()), f"/sessions/{first.pk}/change-series"
    assert "You are changing many at once." in said(desk.get(address))
    typed = typed_for_all(first, title="Residency")
    look = desk.post(address, typed)
    assert "nothing is in their way" in said(look)
    assert not Session.objects.filter(title="Residency").exists()
    typed["seen"], typed["title"] = look.context["seen"], "Residence"
    look = desk.post(address, typed)
    assert "4 sessions as they would be" in said(look)
    assert not Session.objects.filter(title="Residence").exists()
    typed["seen"] = look.context["seen"]
    page = desk.post(address, typed, follow=True)
    assert "Saved for 4 sessions." in said(page)
    assert Session.objects.filter(title="Residence").count() == 4


def test_many_get_a_new_job_that_is_opened_only_when_they_are_saved() -> None:
    first = four_evenings()[0]
    desk, address = browser_of(manager()), f"/sessions/{first.pk}/change-series"
    typed = typed_for_all(first, job="", new_client="Moss & Fern", new_job="Winter songs")
    typed["seen"] = desk.post(address, typed).context["seen"]
    assert not Job.objects.filter(title="Winter songs").exists()
    desk.post(address, typed)
    assert Session.objects.filter(job__title="Winter songs").count() == 4


def test_the_second_of_two_is_told_and_keeps_what_was_typed() -> None:
    first = four_evenings()[0]
    desk, address = browser_of(manager()), f"/sessions/{first.pk}/change-series"
    typed = typed_for_all(first, title="Residency")
    typed["seen"] = desk.post(address, typed).context["seen"]
    now = fresh(first)
    change_series(manager(), now.pk, now.version, replace(as_draft(now), note="Key"), Scope.ALL)
    page = desk.post(address, typed)
    assert "this session was changed while you were typing" in said(page)
    assert page.context["form"]["title"].value() == "Residency"
    assert page.context["form"]["note"].value() == "Key"
    assert not Session.objects.filter(title="Residency").exists()


def test_what_is_owed_is_shown_before_many_are_cancelled() -> None:
    """By the steps of a new site: 50 % with 72 h of notice or less, 100 % with 24 h or less, of 4 h at 50."""
    first = make_session(make_room(), "19:00", "23:00", job_id=make_job(hourly_rate=50).pk)
    repeat(manager(), first.pk, first.version, "FREQ=DAILY;COUNT=4", [])
    first = fresh(first)
    desk, address = browser_of(manager()), f"/sessions/{first.pk}/cancel-series"
    with time_machine.travel(at("2027-03-04 18:00"), tick=False):
        page = desk.get(address)
        assert "All that aren't over: 4 sessions" in said(page)
        assert "by the terms 400.00 EUR is owed" in said(page)
        typed = {"scope": "all", "by_whom": "client", "because": "tour", "version": 1}
        late = desk.post(address, typed)
        assert "Not cancelled yet" in said(late)
        assert late.context["form"]["because"].value() == "tour"
        desk.post(address, typed | {"version": fresh(first).version})
        assert not Session.objects.standing().exists()
        page = desk.post(address, typed, follow=True)
        assert "may be cancelled already" in said(page)
    words = fresh(first).history.get(what="series").words
    assert words == "Cancelled with others of its series: all that aren't over."


def test_a_series_that_is_over_has_nothing_to_change_or_cancel() -> None:
    first = four_evenings()[0]
    with time_machine.travel(at("2027-05-01 12:00"), tick=False):
        desk = browser_of(manager())
        typed = typed_for_all(first, title="Residency")
        look = desk.post(f"/sessions/{first.pk}/change-series", typed)
        assert "all of these are over" in said(look)
        page = desk.get(f"/sessions/{first.pk}/cancel-series")
        assert "All that aren't over: none is left." in said(page)
        assert "Change many" not in said(desk.get(f"/series/{fresh(first).series_id}"))


def test_the_page_of_a_series_asks_equally_often_for_few_and_for_many() -> None:
    few, many = (make_session(make_room(name), "19:00", "23:00") for name in ("Loft", "Kiln"))
    desk = browser_of(manager())

    def queries(first: Session, count: int) -> int:
        address = f"/sessions/{first.pk}/repeat"
        typed = {"every": "1", "unit": "DAILY", "count": count, "version": first.version, "book": "yes"}
        desk.post(address, typed | {"seen": desk.post(address, typed).context["seen"]})
        with CaptureQueriesContext(connection) as captured:
            assert desk.get(f"/series/{fresh(first).series_id}").status_code == 200
        return len(captured)

    assert queries(few, 2) == queries(many, 12)


def test_only_a_manager_repeats_and_changes_a_series() -> None:
    first = four_evenings()[0]
    desk = browser_of(make_person(Role.ENGINEER))
    for page in ("repeat", "change-series", "cancel-series"):
        assert desk.get(f"/sessions/{first.pk}/{page}").status_code == 403
    assert "Change many" not in said(desk.get(f"/series/{fresh(first).series_id}"))


def test_a_press_of_the_answer_keeps_the_form_one_of_many() -> None:
    first = four_evenings()[0]
    desk = browser_of(manager())
    assert "this changes this one only" in said(desk.get(f"/sessions/{first.pk}/change"))
    typed = typed_for_all(first, title="Residency", many="yes", fill="setup_minutes=45")
    page = desk.post(f"/sessions/{first.pk}/fill-in", typed)
    assert "You are changing many at once." in said(page)
    assert page.context["form"]["title"].value() == "Residency"


def test_a_first_day_that_the_rule_does_not_give_is_said_to_count() -> None:
    first = make_session(make_room(), "19:00", "23:00")  # a Thursday
    typed = {"every": "1", "unit": "WEEKLY", "days": ["MO", "TU"], "count": "3"}
    page = desk_page_of(typed, first)
    assert "the rule gives another day, but the first counts as one" in page
    assert "Mon 8 March 2027, 19:00 to 23:00" in page
    assert "counts as one" not in desk_page_of(typed | {"days": ["TH"]}, first)


def desk_page_of(typed: dict[str, object], first: Session) -> str:
    return said(browser_of(manager()).post(f"/sessions/{first.pk}/repeat", typed))
