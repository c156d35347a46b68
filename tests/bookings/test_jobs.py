"""Jobs: how they stand, what they need, what they cost, and how they are found."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext

from bookings import needs
from bookings.booking import cancel, hand_over
from bookings.models import Client, Job, Session
from studio.models import Role
from tests.bookings.cast import browser_of, called, make_job, make_session, manager, said
from tests.house import at, make_person, make_room

pytestmark = pytest.mark.django_db


def page_of(job: Job, now: str = "2027-03-04 09:00") -> str:
    with time_machine.travel(at(now), tick=False):
        page = browser_of(manager()).get(f"/jobs/{job.pk}")
    assert page.status_code == 200
    return said(page)


def test_a_job_says_in_plain_words_how_it_stands() -> None:
    job, room = make_job(), make_room("Weaving Hall")
    assert "nothing booked yet" in page_of(job)
    first = make_session(room, "10:00", "18:00", title="Day one")
    second = make_session(room, "2027-03-11 10:00", "2027-03-11 18:00", title="Day two")
    assert "two sessions ahead, next Thu 4 March" in page_of(job)
    assert "in Weaving Hall now, “Day one”" in page_of(job, "2027-03-04 12:00")
    assert "one session ahead, on Thu 11 March" in page_of(job, "2027-03-05 12:00")
    assert "finished, times not entered" in page_of(job, "2027-03-12 12:00")
    hand_over(manager(), first.pk, first.load_in, first.end)
    assert "finished, times of one session not entered" in page_of(job, "2027-03-12 12:00")
    hand_over(manager(), second.pk, second.load_in, second.end)
    assert "finished, all times entered" in page_of(job, "2027-03-12 12:00")


def test_holds_and_cancelled_sessions_are_told_apart() -> None:
    job = make_job()
    held = make_session(make_room(), status=Session.Status.HELD)
    assert "one hold, nothing confirmed" in page_of(job)
    cancel(manager(), held.pk, 1, "no")
    assert "nothing stands of one session" in page_of(job)


def test_hours_and_money_are_added_line_by_line() -> None:
    """Arithmetic: 8 h and 1 h 10 min at 90.50 are 724.00 and 105.58 (105.5833…), together 829.58."""
    job = make_job(hourly_rate=Decimal("90.50"))
    room = make_room()
    first = make_session(room, "10:00", "18:00")
    make_session(room, "2027-03-05 10:00", "2027-03-05 11:10")
    make_session(room, "2027-03-06 10:00", "2027-03-06 18:00", status=Session.Status.HELD)
    gone = make_session(room, "2027-03-07 10:00", "2027-03-07 18:00")
    cancel(manager(), gone.pk, 1, "rain")
    hand_over(manager(), first.pk, at("2027-03-04 10:00"), at("2027-03-04 18:30"))
    words = page_of(job)
    assert "724.00 EUR" in words
    assert "105.58 EUR" in words
    assert "In all 9 h 10 min 8 h 30 min 829.58 EUR" in words


def test_a_night_over_the_clock_change_is_charged_for_the_hours_it_had() -> None:
    """25 October 2026 in Berlin is an hour longer (tzdata 2026, europe): 22:00 to 04:00 are 7 h, 630.00."""
    job = make_job(hourly_rate=Decimal(90))
    make_session(make_room(), "2026-10-24 22:00", "2026-10-25 04:00")
    assert "In all 7 h none yet 630.00 EUR" in page_of(job)


def test_what_a_job_still_needs_is_listed_with_its_day() -> None:
    job = make_job()
    make_session(make_room(), "10:00", "18:00", title="Day one", crew=[called(make_person(Role.ENGINEER))])
    words = page_of(job)
    assert "What it still needs no rate Day one, Thu 4 March: no instrument list, no assistant" in words
    assert "Day one, Thu 4 March: times in and out not entered" in page_of(job, "2027-03-05 09:00")


def test_other_layers_add_what_they_know(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(needs, "_looks", [])
    asked: list[list[int]] = []

    def look(sessions: Any) -> dict[int, list[str]]:
        asked.append([session.pk for session in sessions])
        return {session.pk: ["2 inputs not filled"] for session in sessions}

    needs.also(look)
    needs.also(look)
    job = make_job()
    session = make_session()
    assert "no instrument list, no engineer, no assistant, 2 inputs not filled" in page_of(job)
    assert asked == [[session.pk]]


def found(desk: Browser, query: str) -> set[str]:
    page = desk.get("/jobs", {"q": query})
    assert page.status_code == 200
    return {row.record.title for row in page.context["table"].rows}


def test_jobs_are_found_by_title_and_client_whatever_the_case_and_the_accents(desk: Browser) -> None:
    """Field case F69; Unicode Standard Annex 15."""
    make_job("Ana Núñez", "Voice")
    make_job("Larkspur", "Écho mixes")
    make_job("Larkspur", "100% wool_test")
    assert found(desk, "nunez") == found(desk, "NU\u0301N\u0303EZ") == {"Voice"}
    assert found(desk, "echo") == found(desk, "ÉCHO larkspur") == {"Écho mixes"}
    assert found(desk, "%") == found(desk, "_") == {"100% wool_test"}
    assert found(desk, "nowhere") == set()
    assert found(desk, "") == {"Voice", "Écho mixes", "100% wool_test"}


def test_the_list_takes_as_many_queries_for_many_jobs_as_for_one(desk: Browser) -> None:
    make_session(make_room("Room 0"), crew=[called(make_person(Role.ENGINEER))])
    desk.get("/jobs")

    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            desk.get("/jobs")
        return len(captured)

    before = queries()
    for number in range(1, 7):
        job = make_job(f"Client {number}", f"Job {number}")
        make_session(make_room(f"Room {number}"), job_id=job.pk, crew=[called(make_person(Role.ENGINEER))])
    assert queries() == before
    assert before <= 16


@pytest.mark.parametrize("sort", ["title", "-client", "state", "-state", "needs", "password", ""])
def test_the_list_can_be_sorted_and_bad_sorting_is_ignored(desk: Browser, sort: str) -> None:
    make_job()
    assert desk.get("/jobs", {"sort": sort, "page": "x"}).status_code == 200


def typed(**changed: Any) -> dict[str, Any]:
    return {"client": "Larkspur", "title": "Mixes", "hourly_rate": "90.50", "currency": "eur", **changed}


def test_a_job_is_opened_and_its_rate_changed(desk: Browser) -> None:
    desk.post("/jobs/new", typed())
    job = Job.objects.get()
    assert (job.client.name, job.title, job.hourly_rate, job.currency) == (
        "Larkspur",
        "Mixes",
        Decimal("90.50"),
        "EUR",
    )
    desk.post(f"/jobs/{job.pk}/change", typed(client="larkspur", hourly_rate="", note="ask"))
    job.refresh_from_db()
    assert (job.hourly_rate, job.note, Client.objects.count()) == (None, "ask", 1)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"client": ""}, "Whose job is it? Type the client's name."),
        ({"title": ""}, "Give the job a title."),
        ({"hourly_rate": "-1"}, "A rate can't be below 0."),
        ({"hourly_rate": "ninety"}, "Write the rate as a number, like 90 or 90.50."),
        ({"hourly_rate": "NaN"}, "Write the rate as a number, like 90 or 90.50."),
        ({"hourly_rate": "1e999"}, "That rate is too"),
        ({"hourly_rate": "90.505"}, "A rate has at most two places after the point."),
        ({"hourly_rate": "9999999999"}, "That rate is too"),
        ({"currency": "EU"}, "A currency is three letters, like EUR (ISO 4217)."),
        ({"currency": "€"}, "A currency is three letters, like EUR (ISO 4217)."),
    ],
)
def test_a_job_that_makes_no_sense_gets_a_sentence(
    desk: Browser, changed: dict[str, Any], sentence: str
) -> None:
    page = desk.post("/jobs/new", typed(note="kept", **changed))
    assert sentence in said(page)
    assert page.context["form"]["note"].value() == "kept"
    assert not Job.objects.exists()


def test_jobs_and_money_are_for_managers() -> None:
    job = make_job()
    for role in (Role.ENGINEER, Role.ASSISTANT, Role.TECH):
        for address in ("/jobs", f"/jobs/{job.pk}", "/jobs/new", f"/jobs/{job.pk}/change"):
            page = browser_of(make_person(role)).get(address)
            assert page.status_code == 403
            assert "Only a manager can" in said(page)
