"""Booking in a real browser: the answer while typing, the keyboard, two presses, the way back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from bookings.booking import Draft, book
from bookings.models import Session
from studio.clock import say_day
from studio.models import Role, Room
from tests.bookings.cast import called, make_job, manager
from tests.browser import DESK, PHONE, axe, open_settled, sign_in
from tests.house import BERLIN, at, make_person, make_room

pytestmark = pytest.mark.django_db(transaction=True)
OpenPage = Callable[..., Page]
DAY = (timezone.now() + timedelta(days=3)).astimezone(BERLIN).date()


def wall(hour: str) -> str:
    return f"{DAY.isoformat()}T{hour}"


@pytest.fixture
def house(live_site: str) -> Room:
    """A composite, a session on it, holds that overlap, and people."""
    hall = make_room("Weaving Hall", parts=[make_room("Booth 1")])
    edda, asa = make_person(Role.ENGINEER, name="Edda"), make_person(Role.ASSISTANT, name="Asa")
    make_job(hourly_rate=90)
    take(hall, 12, 16, "Choir", crew=(called(edda), called(asa, Role.ASSISTANT)))
    loft = make_room("Loft")
    for number in range(3):
        take(loft, 10 + number, 14 + number, f"Larkspur {number}", status=Session.Status.HELD)
    return hall


def take(room: Room, start: int, end: int, title: str, **more: object) -> Session:
    first, last = (at(f"{DAY} {hour}:00") for hour in (start, end))
    return book(manager(), Draft(make_job().pk, room, title, first, first, last, **more))  # type: ignore[arg-type]


def fill_in(page: Page, room: str = "Weaving Hall, Mill Lane") -> None:
    page.get_by_label("Title of the session").fill("Brass band")
    page.locator("#id_job").select_option(index=1)
    page.get_by_label("Room", exact=True).select_option(label=room)
    for name, hour in (("load_in", "09:00"), ("downbeat", "10:00"), ("end", "18:00")):
        page.locator(f"#id_{name}").fill(wall(hour))


@pytest.mark.parametrize(("size", "scheme"), [(DESK, "light"), (PHONE, "dark")], ids=["desk", "phone"])
def test_everyone_can_use_the_pages(
    house: Room, open_page: OpenPage, live_site: str, size: tuple[int, int], scheme: str
) -> None:
    page = open_page(size, color_scheme=scheme)
    sign_in(page, live_site, manager())
    session = Session.objects.get(title="Choir")
    for address in (
        f"/board?day={DAY}",
        f"/board?day={DAY}&view=week",
        "/sessions",
        "/sessions/new",
        f"/sessions/{session.pk}",
        f"/sessions/{session.pk}/change",
        f"/sessions/{session.pk}/hand-over",
        "/jobs",
        f"/jobs/{session.job_id}",
        "/jobs/new",
    ):
        open_settled(page, live_site + address)
        axe(page)
        too_wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert too_wide <= 0, f"{address} is {too_wide} px too wide"


def test_the_form_answers_while_it_is_filled_in_and_books(
    house: Room, desk_page: Page, live_site: str
) -> None:
    sign_in(desk_page, live_site, manager())
    desk_page.goto(f"{live_site}/sessions/new")
    fill_in(desk_page)
    answer = desk_page.locator("#answer")
    expect(answer).to_contain_text("Weaving Hall (also Booth 1) is taken: “Choir”")
    expect(answer).to_contain_text("not free: Edda")
    desk_page.locator("#id_end").fill(wall("11:00"))
    desk_page.get_by_label("Turnaround minutes").fill("0")
    expect(answer).to_contain_text("Nothing is in the way.")
    desk_page.get_by_label("Instrument list").fill("2 vln, vla, vc")
    desk_page.get_by_role("button", name="Book", exact=True).click()
    expect(desk_page.locator("#said")).to_contain_text("“Brass band” is booked.")
    expect(desk_page.get_by_role("heading", name="Brass band")).to_be_visible()


def test_what_was_typed_is_still_there_when_the_room_is_taken(
    house: Room, desk_page: Page, live_site: str
) -> None:
    sign_in(desk_page, live_site, manager())
    desk_page.goto(f"{live_site}/sessions/new")
    fill_in(desk_page)
    desk_page.get_by_label("Note for the house").fill("ring twice")
    desk_page.get_by_role("button", name="Book", exact=True).click()
    expect(desk_page.locator(".wrong[role=alert]")).to_contain_text("Weaving Hall (also Booth 1) is taken")
    expect(desk_page.get_by_label("Note for the house")).to_have_value("ring twice")
    expect(desk_page.locator("#id_end")).to_have_value(wall("18:00"))
    axe(desk_page)


def test_the_whole_form_can_be_filled_in_without_a_mouse(
    house: Room, desk_page: Page, live_site: str
) -> None:
    sign_in(desk_page, live_site, manager())
    desk_page.goto(f"{live_site}/sessions/new?room={Room.objects.get(name='Booth 1').pk}&day={DAY}")
    reached = tab_through(desk_page, "Book")
    asked = ["title", "job", "room", "load_in", "downbeat", "end", "engineers", "assistants"]
    asked += ["instrument_list", "note"]
    assert [name for name in reached if name in asked] == asked


def tab_through(page: Page, button: str) -> list[str]:
    """Names of the controls that Tab reaches, up to the button with this word."""
    reached: list[str] = []
    for _ in range(80):
        page.keyboard.press("Tab")
        name, words = page.evaluate(
            "[document.activeElement.name || '', document.activeElement.innerText || '']"
        )
        if words.strip() == button:
            return reached
        if name and name not in reached:
            reached.append(name)
    raise AssertionError(f"Tab never reached “{button}”: {reached}")


def test_a_block_of_the_board_is_reached_and_opened_with_the_keyboard(
    house: Room, desk_page: Page, live_site: str
) -> None:
    sign_in(desk_page, live_site, manager())
    desk_page.goto(f"{live_site}/board?day={DAY}")
    block = desk_page.locator(".block a", has_text="Choir").first
    block.focus()
    desk_page.keyboard.press("Enter")
    expect(desk_page.get_by_role("heading", name="Choir")).to_be_visible()


def test_lanes_do_not_hide_each_other(house: Room, desk_page: Page, live_site: str) -> None:
    sign_in(desk_page, live_site, manager())
    desk_page.goto(f"{live_site}/board?day={DAY}")
    boxes = [box.bounding_box() for box in desk_page.locator(".block", has_text="Larkspur").all()]
    tops = [box["y"] for box in boxes if box]
    assert len(tops) == 3
    assert len(set(tops)) == 3


def test_back_after_a_change_shows_the_present_state_as_a_whole_page(
    house: Room, desk_page: Page, live_site: str
) -> None:
    """Field case F64."""
    sign_in(desk_page, live_site, manager())
    session = Session.objects.get(title="Choir")
    desk_page.goto(f"{live_site}/board?day={DAY}")
    desk_page.locator(".block a", has_text="Choir").first.click()
    desk_page.get_by_role("link", name="Change").click()
    desk_page.get_by_label("Title of the session").fill("Choir and organ")
    desk_page.get_by_role("button", name="Save").click()
    expect(desk_page.locator("#said")).to_contain_text("Saved.")
    for _ in range(3):
        desk_page.go_back()
    expect(desk_page.get_by_role("heading", level=1)).to_contain_text(say_day(DAY))
    expect(desk_page.locator(".block a").first).to_contain_text("Choir and organ")
    assert session.history.count() == 2


def test_two_quick_presses_book_once(house: Room, desk_page: Page, live_site: str) -> None:
    """Field case F62."""
    sign_in(desk_page, live_site, manager())
    desk_page.goto(f"{live_site}/sessions/new")
    fill_in(desk_page)
    desk_page.locator("#id_end").fill(wall("10:30"))
    desk_page.get_by_label("Turnaround minutes").fill("0")
    before = Session.objects.count()
    desk_page.get_by_role("button", name="Book", exact=True).dblclick()
    expect(desk_page.get_by_role("heading", name="Brass band")).to_be_visible()
    assert Session.objects.count() == before + 1


def test_the_clock_change_question_appears_while_typing(house: Room, desk_page: Page, live_site: str) -> None:
    """25 October 2026 in Berlin: 02:00 to 03:00 comes twice (tzdata 2026, europe: rule EU)."""
    sign_in(desk_page, live_site, manager())
    desk_page.goto(f"{live_site}/sessions/new")
    fill_in(desk_page)
    for name, moment in (
        ("load_in", "2026-10-25T01:00"),
        ("downbeat", "2026-10-25T02:30"),
        ("end", "2026-10-25T06:00"),
    ):
        desk_page.locator(f"#id_{name}").fill(moment)
    second = desk_page.get_by_label("the second 02:30 (01:30 UTC)")
    second.check()
    expect(desk_page.locator("#answer")).to_contain_text("Nothing is in the way.")
    expect(second).to_be_checked()
    axe(desk_page)
    desk_page.get_by_role("button", name="Book", exact=True).click()
    expect(desk_page.get_by_role("heading", name="Brass band")).to_be_visible()
    assert Session.objects.get(title="Brass band").downbeat.isoformat() == "2026-10-25T01:30:00+00:00"
