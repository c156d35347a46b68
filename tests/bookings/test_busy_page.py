"""The page on which a person takes in their own calendar."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from playwright.sync_api import Page, expect

from bookings.busy import sources
from bookings.busy.fetching import Fetched, FetchProblem
from bookings.busy.limits import MOST_BYTES
from bookings.busy.sources import import_busy
from bookings.models import BusySource
from studio.models import Claim, Person, Role
from tests.bookings.calendars import calendar, event
from tests.bookings.cast import browser_of, called, make_session, said
from tests.browser import PHONE, axe, sign_in
from tests.conftest import OpenPage
from tests.house import make_person

PAGE = "/calendars/busy"
SECRET = "https://calendar.test.example/private-1f2e3d/ann.ics"


@pytest.fixture
def march() -> Iterator[None]:
    with time_machine.travel("2027-03-01T09:00:00Z", tick=False):
        yield


@pytest.fixture
def ann(db: None, march: None) -> Person:
    return make_person(Role.ENGINEER, name="Ann")


@pytest.fixture
def desk(ann: Person) -> Browser:
    return browser_of(ann)


def busy_calendar(*more: list[str]) -> bytes:
    return calendar(event("DTSTART:20270304T090000Z", "DURATION:PT2H"), *more)


def sent(desk: Browser, data: bytes, name: str = "ann.ics") -> Any:
    return desk.post(f"{PAGE}/file", {"calendar": SimpleUploadedFile(name, data)}, follow=True)


def test_a_file_is_taken_in_and_its_busy_times_counted(desk: Browser, ann: Person) -> None:
    assert "No calendar yet" in said(desk.get(PAGE))
    page = said(sent(desk, busy_calendar()))
    assert "Your calendar was taken in whole." in page
    assert "ann.ics : 1 busy time from now on" in page
    assert Claim.objects.filter(resource_id=ann.resource_id, firm=True).count() == 1


def test_each_bad_entry_gets_its_sentence_and_the_good_ones_are_taken(desk: Browser) -> None:
    page = said(
        sent(desk, busy_calendar(event("UID:odd@test.example", "SUMMARY:<b>Odd</b>", "DTSTART:soon")))
    )
    assert "Read below what was said of it" in page
    assert "(odd@test.example): the start cannot be read" in page
    assert Claim.objects.count() == 1


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"Dear all", "not an iCalendar file"),
        (b"", "The file is empty"),
        (b"x" * (MOST_BYTES + 1), "larger than 10 MB"),
        (
            calendar(event("UID:g@test.example", "DTSTART:20270301T000000Z", "RRULE:FREQ=SECONDLY")),
            "g@test.example",
        ),
    ],
)
def test_a_bad_file_gets_a_sentence_and_the_earlier_one_stays(desk: Browser, data: bytes, words: str) -> None:
    sent(desk, busy_calendar())
    answer = sent(desk, data)
    assert answer.status_code == 200
    assert words in said(answer)
    assert "ann.ics : 1 busy time" in said(answer)
    assert "Choose the .ics file" in said(desk.post(f"{PAGE}/file"))


def test_an_address_is_followed_and_shown_by_its_server_only(
    desk: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sources, "fetch", lambda *_, **__: Fetched(busy_calendar(), "", ""))
    answer = desk.post(f"{PAGE}/address", {"address": SECRET}, follow=True)
    assert "Calendar at calendar.test.example : 1 busy time" in said(answer)
    assert "1f2e3d" not in answer.content.decode()


@pytest.mark.parametrize(
    "address", ["file:///etc/hostname", "http://127.0.0.1/a.ics", "http://[::ffff:127.0.0.1]/", ""]
)
def test_an_address_that_cannot_be_fetched_is_kept_as_typed_beside_the_reason(
    desk: Browser, address: str
) -> None:
    answer = desk.post(f"{PAGE}/address", {"address": address})
    assert answer.status_code == 200
    assert answer.context["address_form"]["address"].value() == address
    assert answer.context["address_form"].errors["address"]
    assert not BusySource.objects.exists()


def test_a_stale_calendar_says_so(desk: Browser, ann: Person, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sources, "fetch", lambda *_, **__: Fetched(busy_calendar(), "", ""))
    desk.post(f"{PAGE}/address", {"address": SECRET})

    def fails(*_: object, **__: object) -> Fetched:
        raise FetchProblem("The server doesn't answer.")

    monkeypatch.setattr(sources, "fetch", fails)
    with time_machine.travel(timezone.now() + timedelta(hours=1), tick=False):
        sources.look(ann.busy_sources.get().pk)
        page = said(desk.get(PAGE))
    assert "May be out of date. The last look failed: The server doesn't answer." in page
    assert "1 busy time from now on" in page


def test_being_called_while_busy_is_told(desk: Browser, ann: Person) -> None:
    make_session(crew=[called(ann)], load_in="09:00", end="18:00")
    page = said(sent(desk, busy_calendar()))
    assert "Busy elsewhere and taken here at once." in page
    assert "“Quartet” (called), Thu 4 March, 09:00 to 18:00." in page


def test_a_calendar_can_be_forgotten_by_its_person_only(desk: Browser, ann: Person) -> None:
    source = import_busy(ann, ann, busy_calendar())
    stranger = browser_of(make_person(Role.MANAGER, name="Bo"))
    assert stranger.post(f"{PAGE}/{source.pk}/forget").status_code == 404
    assert "calendar.ics" not in said(stranger.get(PAGE))
    assert "you are free in its hours" in said(desk.post(f"{PAGE}/{source.pk}/forget", follow=True))
    assert not Claim.objects.exists()
    assert desk.get(f"{PAGE}/{source.pk}/forget").status_code == 405


def test_the_page_asks_the_same_for_one_calendar_and_for_many(desk: Browser, ann: Person) -> None:
    counts = []
    for number in range(4):
        import_busy(ann, ann, busy_calendar(), f"{number}.ics")
        with CaptureQueriesContext(connection) as asked:
            desk.get(PAGE)
        counts.append(len(asked))
    assert len(set(counts[1:])) == 1  # overlapping calendars ask one thing more than a single one


def test_whoever_is_not_signed_in_is_asked_to(db: None) -> None:
    assert Browser().get(PAGE).status_code == 302


@pytest.mark.django_db(transaction=True)
def test_a_real_browser_takes_in_a_file_from_the_calendars_page(live_site: str, open_page: OpenPage) -> None:
    ann = make_person(Role.ENGINEER, name="Ann", username="ann", password="door-key")
    page: Page = open_page(PHONE, color_scheme="dark")
    sign_in(page, live_site, ann)
    page.goto(f"{live_site}/calendars")
    page.get_by_role("link", name="Take in a calendar").click()
    start = timezone.now() + timedelta(days=2)
    data = calendar(
        event(f"DTSTART:{start:%Y%m%dT%H%M%SZ}", "DURATION:PT1H"), event("UID:u@test.example", "DTSTART:soon")
    )
    page.get_by_label("Calendar file").set_input_files(
        {"name": "ann.ics", "mimeType": "text/calendar", "buffer": data}
    )
    page.get_by_role("button", name="Take in the file").click()
    expect(page.get_by_text("1 busy time from now on")).to_be_visible()
    expect(page.get_by_text("u@test.example: the start cannot be read")).to_be_visible()
    axe(page)
    page.get_by_role("button", name="Forget it").click()
    expect(page.get_by_text("No calendar yet")).to_be_visible()
