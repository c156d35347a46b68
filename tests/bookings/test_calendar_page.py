"""The page where a person gets, renews and revokes calendar addresses."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from playwright.sync_api import Page, expect

from bookings.calendar import feeds
from bookings.models import Feed
from studio.models import Role
from tests.bookings.cast import browser_of, make_job
from tests.browser import DESK, PHONE, axe, sign_in
from tests.conftest import OpenPage
from tests.house import make_person, make_preamp, make_room

PAGE = "/calendars"


@pytest.mark.django_db
def test_a_person_makes_renews_and_revokes_addresses_on_the_page() -> None:
    room, ann = make_room(), make_person(Role.ASSISTANT)
    browser = browser_of(ann)
    assert "Make an address" in browser.get(PAGE).content.decode()
    browser.post(reverse("bookings:feed_make"))
    browser.post(reverse("bookings:feed_make"), {"room": room.pk})
    own, of_room = Feed.objects.get(owner=ann, room=None), Feed.objects.get(owner=ann, room=room)
    page = browser.get(PAGE).content.decode()
    for feed in (own, of_room):
        assert f'value="http://testserver/calendar/{feed.token}.ics"' in page
    response = browser.post(reverse("bookings:feed_renew", args=[own.pk]), follow=True)
    assert own.token not in response.content.decode()
    assert "The old one no longer works." in response.content.decode()
    response = browser.post(reverse("bookings:feed_revoke", args=[of_room.pk]), follow=True)
    assert of_room.token not in response.content.decode()
    assert not Feed.objects.filter(room=room).exists()


@pytest.mark.django_db
def test_the_pages_of_a_job_and_a_unit_lead_to_a_form_that_names_them() -> None:
    job, unit, browser = make_job(), make_preamp(), browser_of(make_person(Role.MANAGER))
    for page, chosen in (
        (reverse("bookings:job", args=[job.pk]), f'<option value="{job.pk}" selected'),
        (reverse("studio:unit", args=[unit.tag]), f'value="{unit.tag}"'),
    ):
        found = re.search(r'href="(/calendars\?[^"#]+)#another"', browser.get(page).content.decode())
        assert found, page
        form = browser.get(found[1]).content.decode()
        assert chosen in form.partition('id="another"')[2]


@pytest.mark.django_db
def test_the_page_says_what_a_subscription_can_and_cannot_do() -> None:
    page = browser_of(make_person(Role.TECH)).get(PAGE).content.decode()
    assert "A subscribed calendar can lag by up to a day" in page
    assert "without the names of clients" in page
    assert "without the names" not in browser_of(make_person(Role.MANAGER)).get(PAGE).content.decode()


@pytest.mark.django_db
def test_the_page_keeps_its_addresses_to_itself() -> None:
    response = browser_of(make_person(Role.TECH)).get(PAGE)
    assert response["Referrer-Policy"] == "same-origin"
    assert "no-store" in response["Cache-Control"]


@pytest.mark.django_db
def test_another_persons_address_is_neither_shown_nor_touched() -> None:
    ann, ben = make_person(Role.TECH), make_person(Role.MANAGER)
    feed = feeds.make(ann)
    browser = browser_of(ben)
    assert feed.token not in browser.get(PAGE).content.decode()
    for name in ("bookings:feed_renew", "bookings:feed_revoke"):
        assert browser.post(reverse(name, args=[feed.pk])).status_code == 404
    assert Feed.objects.get(pk=feed.pk).token == feed.token


@pytest.mark.django_db
@pytest.mark.parametrize("room", ["999999", "the big one", "-1"])
def test_a_room_that_is_not_there_is_answered_with_a_sentence(room: str) -> None:
    response = browser_of(make_person(Role.TECH)).post(
        reverse("bookings:feed_make"), {"room": room}, follow=True
    )
    assert "That room is not in this house any more." in response.content.decode()
    assert not Feed.objects.exists()


@pytest.mark.django_db
def test_a_person_without_any_role_has_only_their_own_calendar() -> None:
    room, person = make_room(), make_person()
    browser = browser_of(person)
    assert room.name not in browser.get(PAGE).content.decode()
    assert browser.post(reverse("bookings:feed_make"), {"room": room.pk}).status_code == 403


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["bookings:feed_make", "bookings:feed_renew", "bookings:feed_revoke"])
def test_addresses_are_changed_by_pressing_only(name: str) -> None:
    ann = make_person(Role.TECH)
    feed = feeds.make(ann)
    route = reverse(name, args=[] if name == "bookings:feed_make" else [feed.pk])
    assert browser_of(ann).get(route).status_code == 405
    assert browser_of(ann, enforce_csrf_checks=True).post(route).status_code == 403
    assert Feed.objects.get(pk=feed.pk).token == feed.token


@pytest.mark.django_db
def test_the_page_asks_the_database_as_often_for_many_rooms_as_for_one() -> None:
    ann = make_person(Role.TECH)
    browser = browser_of(ann)

    def count() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert browser.get(PAGE).status_code == 200
        return len(captured)

    feeds.make(ann, make_room())
    count()
    one = count()
    for number in range(12):
        feeds.make(ann, make_room(f"Room {number}"))
    assert count() == one


@pytest.mark.django_db
def test_one_needs_to_be_signed_in_to_get_an_address() -> None:
    from django.test import Client

    assert Client().get(PAGE).status_code == 302


@pytest.mark.parametrize("size", [PHONE, DESK])
def test_everyone_can_use_the_page(live_site: str, open_page: OpenPage, size: tuple[int, int]) -> None:
    room, ann = make_room(), make_person(Role.ASSISTANT)
    feeds.make(ann, room)
    page: Page = open_page(size)
    sign_in(page, live_site, ann)
    page.goto(f"{live_site}{PAGE}")
    axe(page)
    page.get_by_role("button", name="Make an address for My own calls").click()
    address = page.get_by_label("Secret address of My own calls")
    expect(address).to_have_value(f"{live_site}/calendar/{Feed.objects.get(room=None).token}.ics")
    expect(address).to_have_attribute("readonly", "")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.get_by_role("button", name="Copy the address of My own calls").click()
    expect(page.get_by_role("status")).to_contain_text("The address is copied.")
    assert page.evaluate("navigator.clipboard.readText()") == address.input_value()
    for button in page.get_by_role("main").get_by_role("button").all():
        assert button.bounding_box()["height"] >= 48  # type: ignore[index]
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    axe(page)
