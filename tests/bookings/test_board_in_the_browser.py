"""The board in a real browser: moving with keys, with a pointer and with presses alone; paper; everyone."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from bookings.models import Session
from studio.models import Role, Room
from tests.bookings.cast import called, make_session, manager
from tests.browser import DESK, PHONE, axe, open_settled, settle, sign_in
from tests.house import BERLIN, make_person, make_room

pytestmark = pytest.mark.django_db(transaction=True)
OpenPage = Callable[..., Page]
DAY = (timezone.now() + timedelta(days=3)).astimezone(BERLIN).date()


@pytest.fixture
def house(live_site: str) -> Session:
    hall, loft = make_room("Hall", order=1), make_room("Loft", order=2)
    make_session(loft, f"{DAY} 15:00", f"{DAY} 17:00", title="Brass band", spare_minutes=60)
    make_session(loft, f"{DAY} 20:00", f"{DAY} 22:00", title="Choir", status=Session.Status.HELD)
    edda = make_person(Role.ENGINEER, name="Edda")
    return make_session(hall, f"{DAY} 10:00", f"{DAY} 12:00", crew=[called(edda)])


def place(session: Session) -> str:
    session.refresh_from_db()
    start, end = (moment.astimezone(BERLIN) for moment in (session.downbeat, session.end))
    return f"{Room.objects.get(pk=session.room_id)} {start:%H:%M} {end:%H:%M}"


def test_a_session_is_moved_with_keys_and_taken_back(house: Session, desk_page: Page, live_site: str) -> None:
    sign_in(desk_page, live_site, manager())
    desk_page.goto(f"{live_site}/board?day={DAY}")
    said, keys = desk_page.locator("#carry-said"), desk_page.keyboard
    desk_page.locator(f"#s{house.pk}").focus()
    keys.press("m")
    for key in ("ArrowRight", "ArrowRight", "ArrowDown", "Shift+ArrowRight"):
        keys.press(key)
    expect(said).to_contain_text("10:30 to 12:45. Nothing is in the way.")
    axe(desk_page)
    for _ in range(16):
        keys.press("ArrowRight")
    expect(said).to_contain_text("Loft is taken: “Brass band”")
    keys.press("Enter")
    expect(said).to_contain_text("Not moved to Loft")
    assert place(house) == "Hall 10:00 12:00"
    for _ in range(16):
        keys.press("ArrowLeft")
    keys.press("Enter")
    expect(said).to_contain_text("Saved: “Quartet” is now in Loft")
    assert place(house) == "Loft 10:30 12:45"
    expect(desk_page.locator(f"#s{house.pk}")).to_be_focused()
    expect(desk_page.locator(f"[data-room='{house.room_id}'] #s{house.pk}")).to_be_visible()
    said.get_by_role("button", name="Undo").press("Enter")
    expect(said).to_contain_text("Saved: “Quartet” is now in Hall")
    assert place(house) == "Hall 10:00 12:00"
    desk_page.locator(f"#s{house.pk}").focus()
    keys.press("m")
    keys.press("PageDown")
    keys.press("Escape")
    expect(said).to_contain_text("Let go: nothing has changed.")
    assert place(house) == "Hall 10:00 12:00"


def test_a_pointer_drags_stretches_and_needs_not_drag(
    house: Session, desk_page: Page, live_site: str
) -> None:
    """WCAG 2.2 success criterion 2.5.7: what is done by dragging can be done by presses alone."""
    sign_in(desk_page, live_site, manager())
    desk_page.goto(f"{live_site}/board?day={DAY}")
    said, mouse = desk_page.locator("#carry-said"), desk_page.mouse
    hour = desk_page.locator(".lanes").first.bounding_box()["width"] / 16  # type: ignore[index]
    drag(desk_page, f"#s{house.pk} .t-session", by=(hour, 0))
    expect(said).to_contain_text("Saved:")
    assert place(house) == "Hall 11:00 13:00"
    expect(desk_page.locator(f"#s{house.pk}")).to_contain_text("11:00 to 13:00")
    settle(desk_page)
    drag(desk_page, f"#s{house.pk} .handle", by=(hour / 2, 0))
    expect(said).to_contain_text("11:00 to 13:30")
    assert place(house) == "Hall 11:00 13:30"
    assert "/board" in desk_page.url  # no block was opened on the way
    desk_page.get_by_role("button", name="Close").click()
    desk_page.get_by_role("button", name="Move sessions").click()
    desk_page.locator(f"#s{house.pk}").click()
    for press in ("earlier", "room below", "shorter", "Put down"):
        desk_page.get_by_role("button", name=press).click()
    expect(said).to_contain_text("Saved: “Quartet” is now in Loft")
    assert place(house) == "Loft 10:45 13:00"
    mouse.move(0, 0)


def drag(page: Page, what: str, by: tuple[float, float]) -> None:
    box = page.locator(what).bounding_box()
    assert box
    x, y = box["x"] + min(box["width"] / 2, 30), box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + by[0] / 2, y + by[1] / 2)
    page.mouse.move(x + by[0], y + by[1])
    page.mouse.up()


@pytest.mark.parametrize(
    ("size", "scheme", "views"),
    [
        (DESK, "dark", ("", "&view=weeks", "&of=people&view=week", "&of=gear")),
        (PHONE, "light", ("&view=week", "&of=gear")),
    ],
    ids=["desk", "phone"],
)
def test_everyone_can_use_every_view_and_it_prints_on_one_page(
    house: Session,
    open_page: OpenPage,
    live_site: str,
    size: tuple[int, int],
    scheme: str,
    views: tuple[str, ...],
) -> None:
    page = open_page(size, color_scheme=scheme)
    sign_in(page, live_site, manager())
    for number in range(30):
        make_room(f"Room {number}", order=9)
    for query in views:
        open_settled(page, f"{live_site}/board?day={DAY}{query}")
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        if size == DESK:
            paper = page.pdf(prefer_css_page_size=True)
            assert len(re.findall(rb"/Type\s*/Page\b", paper)) == 1, query
            width, height = map(float, re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", paper)[0])
            assert (round(width), round(height)) == (
                842,
                595,
            )  # A4 on its side: ISO 216, in points of 1/72 inch
