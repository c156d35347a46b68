"""The pages of holds: the form, the place in line, challenge, confirm, release, the board."""

from __future__ import annotations

from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext

from bookings.holds import challenge, confirm
from bookings.models import Session
from studio.models import Role, Room, Site
from tests.bookings.cast import browser_of, filled_in, make_session, manager, page_fields, said
from tests.bookings.hold_cast import clock, fresh, hold, told
from tests.house import at, make_person, make_room

__all__ = ["clock"]
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def hall() -> Room:
    return make_room("Weaving Hall")


def test_the_form_books_a_hold_until_the_day_that_is_typed(desk: Browser) -> None:
    page = desk.post("/sessions/new", filled_in(stands="held", hold_until="2027-03-02"), follow=True)
    assert "“Quartet and harmonium” is held." in said(page)
    assert "First hold: nobody stands above it." in said(page)
    assert "This hold stands until Tue 2 March, 18:00" in said(page)
    assert Session.objects.get().lapses_at == at("2027-03-02 18:00")


@pytest.mark.parametrize(
    ("day", "sentence"),
    [
        ("2027-02-27", "The office has closed on that day (at 18:00). Choose a later day."),
        ("9999-12-31", "Check the year: 9999 is too far away."),
        ("soon", "Write the day like 2027-03-04."),
    ],
)
def test_a_day_that_makes_no_sense_gets_a_sentence(desk: Browser, day: str, sentence: str) -> None:
    page = desk.post("/sessions/new", filled_in(stands="held", hold_until=day))
    assert sentence in said(page)
    assert not Session.objects.exists()


def test_the_answer_says_which_hold_stands_there_and_what_to_do(desk: Browser, hall: Room) -> None:
    hold(hall)
    page = said(desk.post("/sessions/check", filled_in(hall)))
    assert (
        "The first hold there, “Tin Harbour” (Weaving Hall, Thu 4 March, 10:00 to 18:00), stands until"
        in page
    )
    assert "Overruled, it falls: all of its time is covered." in page
    assert "Hold the time and challenge them, or overrule them with a written reason." in page
    in_the_evening = filled_in(hall, load_in="2027-03-04T17:00", downbeat="2027-03-04T17:00")
    for address in ("/sessions/check", "/sessions/new"):
        assert "part of its time is covered" in said(desk.post(address, in_the_evening))
    page = said(desk.post("/sessions/check", filled_in(hall, stands="held")))
    assert "falls" not in page
    assert "It would stand behind: The first hold there, “Tin Harbour”" in page
    assert "overrule" not in page


def test_booking_over_a_hold_is_refused_keeps_the_typing_and_goes_through_with_a_reason(
    desk: Browser, hall: Room
) -> None:
    first = hold(hall)
    page = desk.post("/sessions/new", filled_in(hall, note="ring twice"))
    assert "Not saved: holds stand there." in said(page)
    assert page.context["form"]["note"].value() == "ring twice"
    page = desk.post("/sessions/new", filled_in(hall, overrule="paid in full"), follow=True)
    assert "is booked." in said(page)
    assert "Confirmed past “Tin Harbour”, because: paid in full" in said(page)
    assert fresh(first).cancelled


def test_the_page_of_a_hold_says_its_place_and_until_when_the_first_stands(desk: Browser, hall: Room) -> None:
    hold(hall)
    second = hold(hall, title="Larkspur")
    page = said(desk.get(f"/sessions/{second.pk}"))
    assert "Second hold; “Tin Harbour” is first until Thu 4 March, 10:00." in page
    challenge(manager(), second.pk)
    page = said(desk.get(f"/sessions/{second.pk}"))
    assert "is first until Tue 2 March, 11:00, by when it has to answer a challenge." in page


def test_somebody_who_cannot_book_sees_the_place_and_no_press(hall: Room) -> None:
    mine = hold(hall)
    browser = browser_of(make_person(Role.ENGINEER))
    page = browser.get(f"/sessions/{mine.pk}")
    assert "First hold" in said(page)
    assert f"/sessions/{mine.pk}/confirm" not in page.content.decode()
    for step in ("challenge", "confirm", "release"):
        assert browser.post(f"/sessions/{mine.pk}/{step}").status_code == 403


def test_challenging_says_the_deadline_beforehand_and_does_it(desk: Browser, hall: Room) -> None:
    first, second = hold(hall), hold(hall, title="Larkspur")
    assert "it is confirmed by Tue 2 March, 11:00 or falls" in said(
        desk.get(f"/sessions/{second.pk}/challenge")
    )
    page = desk.post(f"/sessions/{second.pk}/challenge", follow=True)
    assert "The holds above are asked" in said(page)
    assert fresh(first).answer_by == at("2027-03-02 11:00")
    page = desk.get(f"/sessions/{first.pk}/challenge", follow=True)
    assert "no hold stands above this one" in said(page)


def test_confirming_says_beforehand_what_falls_and_which_terms_stand(desk: Browser, hall: Room) -> None:
    mine = hold(hall, "10:00", "14:00")
    hold(hall, "11:00", "12:00", title="Inside"), hold(hall, "13:00", "18:00", title="Beside")
    page = said(desk.get(f"/sessions/{mine.pk}/confirm"))
    assert "“Inside” (Weaving Hall, Thu 4 March, 11:00 to 12:00) falls: all of its time is covered." in page
    assert "“Beside” (Weaving Hall, Thu 4 March, 13:00 to 18:00) falls: part of its time is covered." in page
    assert "Cancelling: 50 % with 72 h of notice or less" in page
    page = desk.post(f"/sessions/{mine.pk}/confirm", {"version": 1}, follow=True)
    assert "“Tin Harbour” is confirmed." in said(page)
    assert "Terms it was confirmed under" in said(page)


def test_confirming_past_a_hold_asks_for_a_reason_on_the_page(desk: Browser, hall: Room) -> None:
    hold(hall)
    second = hold(hall, title="Larkspur")
    page = desk.post(f"/sessions/{second.pk}/confirm", {"version": 1})
    assert "Not confirmed: holds stand above it." in said(page)
    desk.post(f"/sessions/{second.pk}/confirm", {"version": 1, "overrule": "paid"})
    assert told(second) == ["booked", "confirmed", "overruled"]


def test_pressing_twice_or_after_it_fell_is_told_and_does_nothing(desk: Browser, hall: Room) -> None:
    mine = hold(hall)
    for _ in range(2):
        page = desk.post(f"/sessions/{mine.pk}/confirm", {"version": 1}, follow=True)
    assert "It is confirmed already." in said(page)
    assert told(mine) == ["booked", "confirmed"]
    page = desk.post(f"/sessions/{mine.pk}/release", follow=True)
    assert "This session is confirmed: it is no hold any more." in said(page)


def test_a_hold_that_was_changed_meanwhile_is_not_confirmed_unseen(desk: Browser, hall: Room) -> None:
    mine = hold(hall)
    desk.post(f"/sessions/{mine.pk}/change", page_fields(desk, mine) | {"title": "Tin Harbour by night"})
    page = desk.post(f"/sessions/{mine.pk}/confirm", {"version": 1})
    assert "Not confirmed yet: the hold was changed while this page was open." in said(page)
    assert "now Tin Harbour by night" in said(page)


def test_releasing_from_the_page(desk: Browser, hall: Room) -> None:
    mine = hold(hall)
    assert "Nothing is owed." in said(desk.get(f"/sessions/{mine.pk}/release"))
    page = desk.post(f"/sessions/{mine.pk}/release", {"because": "found another day"}, follow=True)
    assert "Released." in said(page)
    assert "The hold was released: found another day" in said(page)


def test_the_expiry_can_be_changed_and_an_untouched_form_changes_nothing(desk: Browser, hall: Room) -> None:
    mine = hold(hall)
    before = mine.lapses_at
    desk.post(f"/sessions/{mine.pk}/change", page_fields(desk, mine))
    assert fresh(mine).lapses_at == before
    desk.post(f"/sessions/{mine.pk}/change", page_fields(desk, mine) | {"hold_until": "2027-03-02"})
    assert fresh(mine).lapses_at == at("2027-03-02 18:00")


def test_cancelling_shows_the_fee_of_the_frozen_terms(
    desk: Browser, hall: Room, clock: time_machine.Traveller
) -> None:
    session = make_session(hall)
    Site.objects.update(cancel_steps="")
    clock.move_to(at("2027-03-02 10:00"))
    page = said(desk.get(f"/sessions/{session.pk}/cancel"))
    assert "48 h before load-in: 50 % of the price is owed; the job has no rate yet." in page


def test_the_board_says_rank_and_deadline_in_a_constant_number_of_queries(desk: Browser, hall: Room) -> None:
    def board() -> tuple[Any, int]:
        with CaptureQueriesContext(connection) as queries:
            return desk.get("/board?day=2027-03-04"), len(queries)

    hold(hall)
    second = hold(hall, title="Larkspur")
    challenge(manager(), second.pk)
    page, few = board()
    assert "1st hold, answer by Tue 11:00: Tin Harbour" in said(page)
    assert "2nd hold: Larkspur" in said(page)
    for number in range(5):
        hold(hall, title=f"Other {number}")
    page, many = board()
    assert "7th hold: Other 4" in said(page)
    assert many == few


def test_open_for_tomorrow_names_the_holds_and_from_the_hour_asks(
    desk: Browser, hall: Room, clock: time_machine.Traveller
) -> None:
    hold(hall, instrument_list="piano")
    clock.move_to(at("2027-03-03 15:00"))
    assert "hold undecided, yes or no from 16:00" in said(desk.get("/board/open"))
    clock.move_to(at("2027-03-03 16:00"))
    assert "hold undecided: ask for a yes or no now" in said(desk.get("/board/open"))


def test_a_site_keeps_its_hours_and_terms_and_refuses_what_makes_no_sense(desk: Browser, hall: Room) -> None:
    address = f"/house/sites/{hall.site_id}"
    typed = {"name": "Mill Lane", "zone": "Europe/Berlin", "office_days": ["1", "6"], "hold_days": "3"}
    for wrong, sentence in [
        ({"cancel_steps": "two days: half"}, "“two days: half” is not a step. Write it like “72 h: 50 %”."),
        ({"cancel_steps": "72: 50\n24: 20"}, "24 h of notice can't cost less than 72 h."),
        ({"cancel_steps": "72: 500"}, "500 % is more than the whole price."),
        ({"opens": "18:00", "closes": "10:00"}, "The office has to close after it opens (18:00)."),
    ]:
        assert sentence in said(desk.post(address, typed | wrong))
    assert desk.post(address, typed).status_code == 302
    site = Site.objects.get()
    assert (site.office_days, site.hold_days, site.answer_hours) == ("16", 3, 24)


def test_confirm_over_a_taken_person_says_so_before_it_is_pressed(desk: Browser, hall: Room) -> None:
    waits = hold(hall)
    other = hold(hall, title="Larkspur")
    confirm(manager(), waits.pk, 1)
    assert fresh(other).cancelled
    behind = hold(hall, title="Behind")
    page = desk.post(f"/sessions/{behind.pk}/confirm", {"version": 1})
    assert "In the way, so it can't be confirmed: Weaving Hall is taken: “Tin Harbour”" in said(page)
