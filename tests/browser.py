"""What tests do with a page in a real browser: sign in without typing, and check that everyone can use it."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import Page

ARGUMENTS = [
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE = (390, 844)
DESK = (1440, 900)
WCAG_A_AND_AA = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


BUSY = ".htmx-request, .htmx-swapping, .htmx-settling, .htmx-added"


def open_settled(page: Page, address: str) -> None:
    """Opens the address and waits for the parts that the page itself asks for once it is loaded."""
    page.goto(address)
    settle(page)


def settle(page: Page) -> None:
    """Waits until nothing that the page has asked for is still to be put into it."""
    page.wait_for_function("busy => !document.querySelector(busy)", arg=BUSY)


def sign_in(page: Page, site: str, person: Any) -> None:
    """Signs `person` in for every page of this one's context, as if they had given their password."""
    client = Client()
    client.force_login(person)
    session = client.cookies[settings.SESSION_COOKIE_NAME].value
    page.context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": session, "url": site}])


def axe(page: Page) -> None:
    """Fails with every violation of WCAG 2.2 level A or AA that axe-core finds on the page as it stands."""
    found = (
        Axe()
        .run(page, options={"runOnly": WCAG_A_AND_AA, "resultTypes": ["violations"]})
        .response["violations"]
    )
    assert not found, f"{page.url}\n" + "\n".join(map(in_words, found))


def in_words(violation: dict[str, Any]) -> str:
    places = [f"    {node['html']}\n      {node['failureSummary']}" for node in violation["nodes"]]
    return "\n".join([f"  {violation['id']}: {violation['help']}", *places])
