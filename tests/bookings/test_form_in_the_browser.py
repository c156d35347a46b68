"""The booking form in a real browser: an alternative fills it, and Enter books rather than presses one."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from bookings.booking import Draft, book
from bookings.models import Session
from tests.bookings.cast import make_job, manager
from tests.browser import axe, sign_in
from tests.house import BERLIN, at, make_mic, make_room

pytestmark = pytest.mark.django_db(transaction=True)


def test_an_alternative_fills_the_form_and_enter_books_it(desk_page: Page, live_site: str) -> None:
    day = (timezone.now() + timedelta(days=3)).astimezone(BERLIN).date()
    hall, loom = make_room("Weaving Hall"), make_room("Loom Room")
    first, last = at(f"{day} 08:00"), at(f"{day} 20:00")
    book(manager(), Draft(make_job().pk, hall, "Choir", first, first, last))
    make_mic("RB-01", "ribbon")
    sign_in(desk_page, live_site, manager())
    desk_page.goto(f"{live_site}/sessions/new?room={hall.pk}&day={day}")
    desk_page.get_by_label("Title of the session").fill("Brass band")
    desk_page.locator("#id_job").select_option(index=1)
    desk_page.get_by_label("Wanted gear").fill("ribon")
    desk_page.get_by_label("RB-01").check()
    answer = desk_page.locator("#answer")
    expect(answer).to_contain_text("Weaving Hall is taken: “Choir”")
    axe(desk_page)
    answer.get_by_role("button", name="Loom Room").click()
    expect(desk_page.locator("#id_room")).to_have_value(str(loom.pk))
    expect(desk_page.get_by_label("Title of the session")).to_have_value("Brass band")
    expect(answer).to_contain_text("Nothing is in the way.")
    expect(answer).to_contain_text("RB-01, Alder & Sons")
    assert Session.objects.count() == 1
    desk_page.locator("#id_room").select_option(str(hall.pk))
    expect(answer.get_by_role("button", name="Loom Room")).to_be_visible()
    desk_page.locator("#id_room").select_option(str(loom.pk))
    desk_page.get_by_label("Title of the session").press("Enter")
    expect(desk_page.locator("#said")).to_contain_text("“Brass band” is booked.")
    assert Session.objects.get(room=loom).wanted_units.get().tag == "RB-01"
