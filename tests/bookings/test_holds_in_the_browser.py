"""Holds in a real browser: placed, challenged, confirmed past the first with a reason; usable by everyone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from bookings.booking import Draft, book
from bookings.holds import challenge
from bookings.models import Session
from studio.models import Room
from tests.bookings.cast import make_job, manager
from tests.browser import DESK, PHONE, axe, open_settled, sign_in
from tests.house import BERLIN, make_room

pytestmark = pytest.mark.django_db(transaction=True)
OpenPage = Callable[..., Page]
TODAY = timezone.now().astimezone(BERLIN)
DAY = (TODAY + timedelta(days=6)).date()


@pytest.fixture
def holds(live_site: str) -> list[Session]:
    """Three holds on one room, the second of which covers the others in part; the third challenges."""
    hall = make_room("Weaving Hall", parts=[make_room("Booth 1")])
    found = [
        place(hall, 10, 14, "Tin Harbour"),
        place(hall, 12, 18, "Larkspur"),
        place(hall, 13, 17, "Alder"),
    ]
    challenge(manager(), found[2].pk)
    return found


def place(room: Room, start: int, end: int, title: str) -> Session:
    first, last = (
        TODAY.replace(hour=hour, minute=0, second=0, microsecond=0) + timedelta(days=6)
        for hour in (start, end)
    )
    draft = Draft(make_job().pk, room, title, first, first, last, status=Session.Status.HELD)
    return book(manager(), draft)


@pytest.mark.parametrize(("size", "scheme"), [(DESK, "light"), (PHONE, "dark")], ids=["desk", "phone"])
def test_everyone_can_use_the_pages_of_holds(
    holds: list[Session], open_page: OpenPage, live_site: str, size: tuple[int, int], scheme: str
) -> None:
    page = open_page(size, color_scheme=scheme)
    sign_in(page, live_site, manager())
    second = f"/sessions/{holds[1].pk}"
    for address in (
        f"/sessions/{holds[0].pk}",
        f"/sessions/{holds[2].pk}",
        second,
        f"{second}/challenge",
        f"{second}/confirm",
        f"{second}/release",
        f"{second}/change",
        f"/board?day={DAY}",
        "/sessions/new",
        f"/house/sites/{holds[0].room.site_id}",
    ):
        open_settled(page, live_site + address)
        axe(page)
        too_wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert too_wide <= 0, f"{address} is {too_wide} px too wide"


def test_a_hold_is_placed_and_then_confirmed_past_the_first_with_a_reason(
    holds: list[Session], desk_page: Page, live_site: str
) -> None:
    sign_in(desk_page, live_site, manager())
    desk_page.goto(f"{live_site}/sessions/new?room={holds[0].room_id}&day={DAY}")
    desk_page.get_by_label("Title of the session").fill("Brass band")
    desk_page.locator("#id_job").select_option(index=1)
    answer = desk_page.locator("#answer")
    expect(answer).to_contain_text("Holds stand there:")
    desk_page.get_by_label("as a hold, not owed yet").check()
    expect(answer).to_contain_text("It would stand behind:")
    desk_page.get_by_role("button", name="Book", exact=True).click()
    expect(desk_page.locator("#said")).to_contain_text("“Brass band” is held.")
    desk_page.get_by_role("link", name="Confirm past the holds above").click()
    desk_page.get_by_role("button", name="Overrule and confirm").click()
    expect(desk_page.get_by_role("alert")).to_contain_text("Not confirmed: holds stand above it.")
    desk_page.get_by_label("Reason to overrule the holds above").fill("paid in full")
    desk_page.get_by_role("button", name="Overrule and confirm").click()
    expect(desk_page.locator("#said")).to_contain_text("“Brass band” is confirmed.")
    expect(desk_page.locator("main")).to_contain_text("because: paid in full")
    assert not Session.objects.filter(status=Session.Status.HELD).exists()


def test_a_challenge_is_two_presses_with_the_keyboard(
    holds: list[Session], desk_page: Page, live_site: str
) -> None:
    sign_in(desk_page, live_site, manager())
    desk_page.goto(f"{live_site}/sessions/{holds[1].pk}")
    desk_page.get_by_role("link", name="Challenge").focus()
    desk_page.keyboard.press("Enter")
    desk_page.get_by_role("button", name="Challenge the holds above").focus()
    desk_page.keyboard.press("Enter")
    expect(desk_page.locator("#said")).to_contain_text("The holds above are asked")
    expect(desk_page.locator("main")).to_contain_text("It challenges those above.")
