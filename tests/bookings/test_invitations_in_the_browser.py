"""Answering a call with a thumb, and the manager's pages about it, in a real browser."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from bookings.booking import book
from bookings.models import Crew
from studio.models import Role
from tests.bookings.cast import called, make_draft, manager
from tests.browser import axe, sign_in
from tests.house import make_person, make_room

TARGET = 48  # px, of a press under a thumb


@pytest.mark.django_db(transaction=True)
def test_a_call_is_answered_on_a_phone_and_the_manager_reads_it(
    live_site: str, phone_page: Page, desk_page: Page
) -> None:
    ida = make_person(Role.ENGINEER, name="Ida")
    start = timezone.now() + timedelta(days=2)
    draft = make_draft(make_room("Weaving Hall"), "10:00", "18:00", crew=[called(ida)])
    session = book(manager(), draft.moved(start, start, start + timedelta(hours=8)))
    call = session.crew.get()

    sign_in(phone_page, live_site, ida)
    phone_page.goto(f"{live_site}/people/{ida.pk}")
    axe(phone_page)
    for press in ("Accept", "Perhaps", "Decline"):
        box = phone_page.locator(".call-answer .presses > *", has_text=press).bounding_box()
        assert box
        assert box["height"] >= TARGET
        assert box["x"] + box["width"] <= 390
    phone_page.get_by_role("link", name="Decline Quartet").click()
    axe(phone_page)
    phone_page.get_by_label("Why, if not").fill("on tour")
    phone_page.get_by_role("button", name="Decline").click()
    expect(phone_page.get_by_text("Ida: declined. “on tour”")).to_be_visible()
    expect(phone_page).to_have_url(f"{live_site}/people/{ida.pk}")

    sign_in(desk_page, live_site, manager())
    for path in (f"/sessions/{session.pk}", "/replies"):
        desk_page.goto(live_site + path)
        expect(desk_page.locator(".call-answer")).to_contain_text("declined")
        axe(desk_page)
    desk_page.get_by_role("link", name="Change the answer of Ida").click()
    axe(desk_page)
    desk_page.get_by_role("button", name="Accept").click()
    expect(desk_page.get_by_text("Everybody who is called has accepted.")).to_be_visible()
    assert Crew.objects.get(pk=call.pk).answer == Crew.Answer.ACCEPTED
