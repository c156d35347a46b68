"""The session's own page, cancelling, handing over, and the list of sessions."""

from __future__ import annotations

import html
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext

from bookings import booking
from bookings.booking import Worked, cancel, change
from bookings.models import Session
from studio.models import Claim, Role
from tests.bookings.cast import browser_of, called, make_draft, make_job, make_session, manager, said
from tests.house import at, make_person, make_room, make_site

pytestmark = pytest.mark.django_db


def test_the_page_says_when_where_who_and_for_whom(desk: Browser) -> None:
    hall = make_room("Weaving Hall", parts=[make_room("Booth 1")])
    edda = make_person(Role.ENGINEER, name="Edda")
    session = make_session(
        hall, "09:20", "19:00", downbeat="10:00", crew=[called(edda)], instrument_list="2 vln\n  vla, vc"
    )
    page = desk.get(f"/sessions/{session.pk}")
    words = said(page)
    assert "Weaving Hall, Mill Lane (with Booth 1)" in words
    for line in (
        "Load-in Thu 4 March, 09:20",
        "Downbeat Thu 4 March, 10:00",
        "End Thu 4 March, 19:00",
        "Edda , engineer from",
        "Client Tin Harbour",
        "Job Quartet and harmonium",
        "Booked. Mara,",
        "Europe/Berlin",
    ):
        assert line in words
    assert "2 vln\n  vla, vc" in page.content.decode()


def test_a_bench_tech_is_not_told_who_the_client_is() -> None:
    session = make_session()
    page = browser_of(make_person(Role.TECH)).get(f"/sessions/{session.pk}")
    assert "Tin Harbour" not in said(page)
    assert "harmonium" not in said(page)
    assistant = browser_of(make_person(Role.ASSISTANT)).get(f"/sessions/{session.pk}")
    assert "Tin Harbour" in said(assistant)
    assert "/jobs/" not in assistant.content.decode()


def test_the_history_says_who_changed_what(desk: Browser) -> None:
    session = make_session(make_room("Kiln"), "10:00", "12:00")
    noor = make_person(Role.MANAGER, name="Noor")
    change(noor, session.pk, 1, make_draft(session.room, "10:00", "13:00"))
    words = said(desk.get(f"/sessions/{session.pk}"))
    assert "End: Thu 4 March, 12:00, now Thu 4 March, 13:00. Clear at:" in words
    assert "Noor, " in words


@pytest.mark.parametrize(
    ("now", "words"),
    [
        ("2027-03-01 12:00", "confirmed in 3 days"),
        ("2027-03-03 23:59", "confirmed tomorrow"),
        ("2027-03-04 08:00", "confirmed today"),
        ("2027-03-04 09:30", "being set up load-in 10:00"),
        ("2027-03-04 10:00", "running until Thu 4 March, 18:00"),
        ("2027-03-04 18:00", "over, times in and out not entered ended Thu 4 March, 18:00"),
    ],
)
def test_how_it_stands_is_said_in_words(now: str, words: str) -> None:
    session = make_session(make_room(), "10:00", "18:00", setup_minutes=60)
    with time_machine.travel(at(now), tick=False):
        assert words in said(browser_of(manager()).get(f"/sessions/{session.pk}"))


def test_an_unknown_session_is_not_there(desk: Browser) -> None:
    for address in (
        "/sessions/999",
        "/sessions/999/change",
        "/sessions/999/cancel",
        "/sessions/999/hand-over",
    ):
        assert desk.get(address).status_code == 404
    assert desk.get("/sessions/99999999999999999999999").status_code == 404


def test_cancelling_asks_why_and_frees_everything(desk: Browser) -> None:
    session = make_session(make_room("Kiln"))
    asked = desk.post(f"/sessions/{session.pk}/cancel", {"because": " ", "version": 1})
    assert "Say in a few words why." in said(asked)
    typed = {"because": "singer ill", "by_whom": "client", "version": 1}
    page = desk.post(f"/sessions/{session.pk}/cancel", typed, follow=True)
    assert "Cancelled. Room, people and gear are free again." in said(page)
    assert "cancelled on" in said(page)
    assert "singer ill" in said(page)
    assert not Claim.objects.exists()


def test_what_was_worked_and_handed_over_is_not_cancelled(desk: Browser) -> None:
    session = make_session(make_room())
    booking.hand_over(manager(), session.pk, session.load_in, session.end)
    typed = {"because": "by mistake", "by_whom": "client", "version": session.version}
    for answer in (
        desk.get(f"/sessions/{session.pk}/cancel", follow=True),
        desk.post(f"/sessions/{session.pk}/cancel", typed, follow=True),
    ):
        assert "can't be cancelled" in html.unescape(said(answer))
        assert f"/sessions/{session.pk}/cancel" not in answer.content.decode()
    with pytest.raises(Worked):
        cancel(manager(), session.pk, session.version, "")
    session.refresh_from_db()
    assert not session.cancelled


def test_cancelling_twice_is_cancelling_once(desk: Browser) -> None:
    session = make_session()
    for _ in range(2):
        desk.post(f"/sessions/{session.pk}/cancel", {"because": "rain", "by_whom": "client", "version": 1})
    assert session.history.count() == 2


def test_cancelling_what_was_changed_meanwhile_asks_again_and_keeps_the_reason(desk: Browser) -> None:
    session = make_session(make_room("Kiln"), "10:00", "12:00")
    change(manager(), session.pk, 1, make_draft(session.room, "10:00", "13:00"))
    page = desk.post(f"/sessions/{session.pk}/cancel", {"because": "rain", "by_whom": "client", "version": 1})
    assert "Not cancelled yet: the session was changed while this page was open." in said(page)
    assert "now Thu 4 March, 13:00" in said(page)
    form = page.context["form"]
    desk.post(
        f"/sessions/{session.pk}/cancel",
        {name: form[name].value() for name in ("because", "by_whom", "version")},
    )
    session.refresh_from_db()
    assert (session.cancelled, session.cancelled_because) == (True, "rain")


def hand_over(person: Any, session: Session, worked_from: str, worked_to: str, **more: Any) -> Any:
    with time_machine.travel(at("2027-03-05 09:00"), tick=False):
        typed = {"worked_from": worked_from, "worked_to": worked_to, **more}
        return browser_of(person).post(f"/sessions/{session.pk}/hand-over", typed, follow=True)


def test_an_assistant_hands_over_with_times_in_and_out() -> None:
    session, asa = make_session(), make_person(Role.ASSISTANT)
    page = hand_over(asa, session, "2027-03-04T10:05", "2027-03-04T19:10", words="one boom bent")
    assert "finished worked Thu 4 March, 10:05 to 19:10, 9 h 5 min" in said(page)
    assert "one boom bent" in said(page)
    session.refresh_from_db()
    assert (session.worked_from, session.worked_to) == (at("2027-03-04 10:05"), at("2027-03-04 19:10"))


@pytest.mark.parametrize(
    ("began", "ended", "sentence"),
    [
        ("2027-03-04T10:00", "2027-03-04T10:00", "The time out has to come after the time in"),
        ("2027-03-04T10:00", "2027-03-04T09:00", "The time out has to come after the time in"),
        ("2027-02-01T10:00", "2027-03-04T18:00", "check the dates."),
        ("2027-03-05T08:00", "2027-03-05T10:00", "That is still to come."),
        ("", "2027-03-04T10:00", "When did the work begin?"),
        ("noon", "2027-03-04T10:00", "“noon” is not a time."),
    ],
)
def test_times_that_make_no_sense_get_a_sentence(began: str, ended: str, sentence: str) -> None:
    session = make_session()
    page = hand_over(make_person(Role.ENGINEER), session, began, ended, words="kept")
    assert sentence in said(page)
    assert page.context["form"]["words"].value() == "kept"
    session.refresh_from_db()
    assert session.worked is None


def test_hours_worked_over_a_clock_change_are_elapsed_hours() -> None:
    """25 October 2026 in Berlin has 02:00 to 03:00 twice (tzdata 2026, europe: rule EU)."""
    session = make_session(make_room(), "2026-10-24 20:00", "2026-10-25 04:00")
    page = hand_over(manager(), session, "2026-10-24T22:00", "2026-10-25T02:30")
    assert "02:30 on Sun 25 October 2026 comes twice" in said(page)
    hand_over(manager(), session, "2026-10-24T22:00", "2026-10-25T02:30", worked_to_which="second")
    session.refresh_from_db()
    assert session.worked is not None
    assert session.worked.total_seconds() / 3600 == 5.5


def test_a_bench_tech_can_t_hand_over_and_a_cancelled_session_isn_t() -> None:
    session = make_session()
    page = browser_of(make_person(Role.TECH)).get(f"/sessions/{session.pk}/hand-over")
    assert page.status_code == 403
    assert "can enter times in and out." in said(page)
    cancel(manager(), session.pk, 1, "rain")
    page = browser_of(manager()).get(f"/sessions/{session.pk}/hand-over", follow=True)
    assert "there is nothing to hand over" in said(page)


def titles(desk: Browser, **query: Any) -> list[str]:
    page = desk.get("/sessions", query)
    assert page.status_code == 200
    return [row.record.title for row in page.context["table"].rows]


@time_machine.travel(at("2027-03-04 12:00"), tick=False)
def test_the_list_shows_what_is_ahead_and_filters_live_in_the_address() -> None:
    desk, edda = browser_of(manager()), make_person(Role.ENGINEER)
    kiln, loft = make_room("Kiln"), make_room("Loft")
    one, other = make_job().pk, make_job("Larkspur", "Mixes")
    make_session(loft, "2027-03-06 10:00", "2027-03-06 12:00", title="Saturday", job_id=other.pk)
    make_session(kiln, "10:00", "18:00", title="Today", crew=[called(edda)], job_id=one)
    make_session(kiln, "2027-03-01 10:00", "2027-03-01 12:00", title="Monday", job_id=one)
    assert titles(desk) == ["Today", "Saturday"]
    assert titles(desk, when="over") == ["Monday"]
    assert titles(desk, when="") == ["Monday", "Today", "Saturday"]
    assert titles(desk, when="", room=kiln.pk) == ["Monday", "Today"]
    assert titles(desk, when="", person=edda.pk) == ["Today"]
    assert titles(desk, when="", client=other.client_id) == ["Saturday"]
    assert titles(desk, when="", job=other.pk, room=kiln.pk) == []
    assert titles(desk, day="2027-03-01") == ["Monday"]


def test_the_day_filter_is_each_site_s_own_day(desk: Browser) -> None:
    """Field case F59."""
    pier = make_room("Pier Room", make_site("Quay House", "America/New_York"))
    make_session(make_room("Kiln"), "2027-03-03 23:00", "2027-03-04 00:30", title="Berlin night")
    make_session(pier, "20:00", "23:30", title="New York evening")
    assert titles(desk, day="2027-03-04") == ["Berlin night", "New York evening"]
    assert titles(desk, day="2027-03-03") == ["Berlin night"]
    assert titles(desk, day="2027-03-05") == []


def test_filters_that_make_no_sense_get_a_sentence(desk: Browser) -> None:
    make_session()
    page = desk.get(
        "/sessions", {"day": "someday", "room": "x", "job": "999", "page": "abc", "sort": "password"}
    )
    assert page.status_code == 200
    assert "Write the day like 2027-03-04." in said(page)


def test_a_tech_s_list_names_no_client() -> None:
    make_session(make_room(), title="Night drums")
    page = browser_of(make_person(Role.TECH)).get("/sessions", {"when": "", "client": "1"})
    assert "Night drums" in said(page)
    assert "Tin Harbour" not in said(page)


def test_the_list_takes_as_many_queries_for_many_sessions_as_for_one(desk: Browser) -> None:
    make_session(make_room("Room 0"), crew=[called(make_person(Role.ENGINEER))])
    desk.get("/sessions?when=")

    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            desk.get("/sessions?when=")
        return len(captured)

    before = queries()
    for number in range(1, 9):
        crew = [called(make_person(Role.ENGINEER))]
        make_session(make_room(f"Room {number}"), crew=crew, job_id=make_job(f"Client {number}").pk)
    assert queries() == before
