"""The gear pages in a real browser, on a phone and at a desk, by day and by night."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from studio import faults
from studio.faults import report_fault
from studio.models import Fault, MicrophoneSpec, Person, Role
from tests.browser import DESK, PHONE, axe, sign_in
from tests.conftest import OpenPage
from tests.house import channel, make_mic, make_person, make_preamp, make_room

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def tech() -> Person:
    person = make_person(Role.TECH, Role.MANAGER, name="Bo Lind")
    oak = make_preamp("Oak", 8, home_room=make_room("Weaving Hall"), storage="machine rack")
    report_fault(person, oak, channel(oak, 3), Fault.Effect.NO_PHANTOM, words="since the lamp blinked")
    faults.start_bench(person, report_fault(person, oak, channel(oak, 5), Fault.Effect.DEAD))
    report_fault(person, make_mic("R-02", MicrophoneSpec.Transducer.RIBBON), None, Fault.Effect.CRACKLES)
    return person


def test_answers_come_while_typing_and_a_tap_opens_the_unit(
    phone_page: Page, live_site: str, tech: Person
) -> None:
    sign_in(phone_page, live_site, tech)
    phone_page.goto(f"{live_site}/gear")
    phone_page.get_by_label("Unit, channel or kind").press_sequentially("ribon", delay=20)
    expect(phone_page.get_by_role("link", name=re.compile("R-02"))).to_be_visible()
    expect(phone_page.locator("#answers")).to_contain_text("suspected, watch it")
    axe(phone_page)
    phone_page.get_by_role("link", name=re.compile("R-02")).tap()
    expect(phone_page.get_by_role("heading", level=1)).to_have_text("R-02")
    phone_page.go_back()
    expect(phone_page.get_by_label("Unit, channel or kind")).to_have_value("ribon")


def test_a_fault_is_reported_from_the_phone_in_two_taps(
    phone_page: Page, live_site: str, tech: Person
) -> None:
    sign_in(phone_page, live_site, tech)
    phone_page.goto(f"{live_site}/gear?q=oak+6")
    press = phone_page.get_by_role("link", name="does not work at all")
    box = press.bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < PHONE[1], "it is on the first screen"
    press.tap()
    expect(phone_page.get_by_label("does not work at all")).to_be_checked()
    phone_page.get_by_role("button", name="Report it", exact=True).tap()
    expect(phone_page.get_by_role("status")).to_contain_text("Reported: Oak channel 6")
    expect(phone_page.locator(".answer")).to_contain_text("does not work at all")
    assert Fault.objects.filter(channel__number=6, severity=Fault.Severity.OUT).count() == 1


def test_a_lost_connection_is_said_and_not_passed_over(
    phone_page: Page, live_site: str, tech: Person, console_errors: list[str]
) -> None:
    sign_in(phone_page, live_site, tech)
    phone_page.goto(f"{live_site}/gear")
    phone_page.context.set_offline(True)
    phone_page.get_by_label("Unit, channel or kind").fill("oak")
    expect(phone_page.get_by_role("status")).to_contain_text("No connection")
    assert console_errors  # the browser itself complains of the request that failed
    console_errors.clear()


def test_a_refusal_of_a_part_of_the_page_is_said_too(
    phone_page: Page, live_site: str, tech: Person, console_errors: list[str]
) -> None:
    sign_in(phone_page, live_site, tech)
    phone_page.goto(f"{live_site}/gear")
    tech.roles_held.all().delete()
    phone_page.get_by_label("Unit, channel or kind").fill("oak")
    expect(phone_page.get_by_role("status")).to_contain_text("That isn't yours to do")
    assert console_errors  # the browser itself notes the 403
    console_errors.clear()


PAGES = [
    (PHONE, "dark", ["/gear", "/gear/Oak?channel=3", "/bench"]),
    (DESK, "light", ["/gear/all/", "/gear/Oak", "/gear/R-02?at=soon", "/bench"]),
]


@pytest.mark.parametrize(("size", "scheme", "addresses"), PAGES)
def test_gear_pages_can_be_used_by_everyone(
    open_page: OpenPage,
    live_site: str,
    tech: Person,
    size: tuple[int, int],
    scheme: str,
    addresses: list[str],
) -> None:
    page = open_page(size, color_scheme=scheme)
    page.goto(f"{live_site}/sign-in")
    axe(page)
    sign_in(page, live_site, tech)
    for address in addresses:
        page.goto(f"{live_site}{address}")
        for summary in page.locator("main summary").all():
            summary.click()
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0], address
        assert small_targets(page) == [], address


def small_targets(page: Page) -> list[str]:
    """Presses and boxes on the page that are lower than 48 px."""
    return page.evaluate(
        """() => [...document.querySelectorAll("button, select, summary, input:not([type=radio])")]
          .filter(e => e.getClientRects().length && e.getBoundingClientRect().height < 47.5)
          .map(e => e.outerHTML.slice(0, 90))"""
    )
