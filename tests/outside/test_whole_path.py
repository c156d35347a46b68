"""The main job end to end, as four people in real browsers, on a phone and at a desk.

The site's zone has no clock changes, so that the test means the same on every day of the year.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import vobject
from django.core import mail
from django.utils import timezone
from playwright.sync_api import Page, expect

from bookings.models import Session
from studio.models import Fault, MicrophoneSpec, Person, Phantom, PreampSpec, Role, Room
from tasks.models import Reminder
from tasks.reminders.send import send_due
from tests.browser import DESK, PHONE, axe, sign_in
from tests.conftest import OpenPage
from tests.house import make_di, make_mic, make_person, make_preamp, make_room, make_site, make_stock

pytestmark = pytest.mark.django_db(transaction=True)
ZONE = ZoneInfo("Asia/Kathmandu")
LIST = """Kick
Snare top
bass DI
lead vocal
trumpet
2x glorpophone"""


class House:
    """A small house and its four people."""

    def __init__(self) -> None:
        site = make_site("Mill Lane", "Asia/Kathmandu")
        self.room: Room = make_room("Weaving Hall", site, setup_minutes=120, turnaround_minutes=60)
        make_preamp(
            "Oak",
            8,
            home_room=self.room,
            switching=PreampSpec.Switching.PER_BANK,
            bank_size=4,
            drain_seconds=90,
        )
        for number in range(1, 4):
            make_mic(f"D-{number}", MicrophoneSpec.Transducer.MOVING_COIL, site=site, max_spl_db=160)
            make_mic(f"K-{number}", MicrophoneSpec.Transducer.LARGE_MOVING_COIL, site=site, max_spl_db=160)
            make_mic(
                f"C-{number}", MicrophoneSpec.Transducer.LARGE_CONDENSER, Phantom.NEEDS, site=site,
                max_spl_db=145, current_ma=4,
            )  # fmt: skip
        make_mic("R-1", MicrophoneSpec.Transducer.RIBBON, Phantom.MUST_NOT, site=site, max_spl_db=160)
        make_di("Box-1", active=True, site=site)
        for name in ("tall boom", "short boom", "straight", "clip"):
            make_stock(name, 6, site)
        self.manager: Person = make_person(Role.MANAGER, name="Mira Lund")
        self.engineer: Person = make_person(Role.ENGINEER, name="Tomas Ferro")
        self.assistant: Person = make_person(Role.ASSISTANT, name="Ines Kaya")
        self.tech: Person = make_person(Role.TECH, name="Joost Brand")


@pytest.fixture
def house(transactional_db: None) -> House:
    return House()


def wall(instant: datetime) -> str:
    return instant.astimezone(ZONE).strftime("%Y-%m-%dT%H:%M")


def fill_in(page: Page, site: str, load_in: datetime) -> None:
    page.goto(f"{site}/sessions/new")
    page.get_by_label("Title of the session").fill("Brass on three songs")
    page.get_by_label("Client").fill("Tin Harbour")
    page.get_by_label("Title of the new job").fill("Second record")
    page.get_by_label("Room", exact=True).select_option(label="Weaving Hall, Mill Lane")
    page.get_by_label("Load-in", exact=True).fill(wall(load_in))
    page.get_by_label("Downbeat", exact=True).fill(wall(load_in + timedelta(minutes=40)))
    page.get_by_label("End", exact=True).fill(wall(load_in + timedelta(hours=6)))
    page.get_by_role("checkbox", name="Tomas Ferro").check()
    page.get_by_role("checkbox", name="Ines Kaya").check()
    page.get_by_label("Instrument list").fill(LIST)


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_the_main_job_end_to_end(
    house: House, live_site: str, open_page: OpenPage, size: tuple[int, int]
) -> None:
    now = timezone.now().replace(second=0, microsecond=0)
    load_in = now + timedelta(minutes=50)  # setup of two hours has begun

    # The manager books, sees how the list reads and that nothing is in the way.
    manager = open_page(size)
    sign_in(manager, live_site, house.manager)
    manager.goto(f"{live_site}/board")
    axe(manager)
    fill_in(manager, live_site, load_in)
    expect(manager.locator("#reading")).to_contain_text("glorpophone")
    expect(manager.locator("#reading")).to_contain_text("Not understood")
    expect(manager.locator("#answer")).not_to_be_empty()
    axe(manager)
    manager.get_by_role("button", name="Book", exact=True).click()
    expect(manager.get_by_role("heading", level=1)).to_contain_text("Brass on three songs")
    expect(manager.get_by_text("5 planned")).to_be_visible()
    expect(manager.get_by_text("“2x glorpophone”").or_(manager.get_by_text("“glorpophone”"))).to_be_visible()
    axe(manager)
    session = Session.objects.get()

    # The same hour again: said in words while it is being filled in, and refused when pressed.
    fill_in(manager, live_site, load_in)
    expect(manager.locator("#answer")).to_contain_text("Brass on three songs")
    manager.get_by_role("button", name="Book", exact=True).click()
    expect(manager.get_by_role("alert").first).to_contain_text("Weaving Hall")
    expect(manager.get_by_label("Instrument list")).to_have_value(LIST)
    assert Session.objects.count() == 1

    # The reminder goes out once, with the checklist in it.
    Reminder.objects.filter(kind="morning").update(due_at=now - timedelta(minutes=1))
    assert send_due() == 1
    assert send_due() == 0
    [letter] = mail.outbox
    assert letter.to == [house.assistant.email]
    assert "all phantom off, wait 90 seconds" in letter.body
    assert f"{'/day'}" in letter.body

    # The assistant ticks on a phone; the tick survives a reload and reaches a second phone within 10 s.
    phone, second = open_page(size), open_page(size)
    for page in (phone, second):
        sign_in(page, live_site, house.assistant)
        page.goto(f"{live_site}/day")
        expect(page.get_by_role("heading", level=1)).to_have_text("Brass on three songs")
    axe(phone)
    first = phone.locator(".card h2").inner_text()
    phone.get_by_role("button", name="Done", exact=True).click()
    expect(phone.locator(".card h2")).not_to_have_text(first)
    phone.reload()
    expect(phone.get_by_role("button", name=f"Done: {first}")).to_have_attribute("aria-pressed", "true")
    expect(second.get_by_role("button", name=f"Done: {first}")).to_have_attribute(
        "aria-pressed", "true", timeout=10_000
    )
    phone.goto(f"{live_site}/sessions/{session.pk}/inputs")
    expect(phone.locator(".strip-name", has_text="Trumpet")).to_be_visible()
    axe(phone)

    # The engineer finds that a channel is out: reports it in two fields, then looks it up.
    engineer = open_page(size)
    sign_in(engineer, live_site, house.engineer)
    engineer.goto(f"{live_site}/gear/Oak?channel=3")
    engineer.get_by_label("no phantom").check()
    engineer.get_by_role("button", name="Report it").click()
    engineer.goto(f"{live_site}/gear")
    engineer.get_by_role("searchbox").last.fill("oak 3")
    expect(engineer.locator("#answers")).to_contain_text("no phantom")
    axe(engineer)
    engineer.goto(f"{live_site}/gear/Oak?channel=3")
    expect(engineer.locator("main")).to_contain_text(re.compile("no phantom.*since", re.I | re.S))
    axe(engineer)

    # The tech sees it on the bench and says when it is back; the engineer reads that.
    tech = open_page(size)
    sign_in(tech, live_site, house.tech)
    tech.goto(f"{live_site}/bench")
    expect(tech.get_by_role("heading", name="Oak, channel 3")).to_be_visible()
    axe(tech)
    tech.get_by_role("button", name="On the bench").click()
    tech.get_by_text("Return date, how bad").click()
    back = now + timedelta(days=3)
    tech.locator("input[name$=back]").fill(wall(back))
    tech.get_by_role("button", name="Set the date").click()
    expect(tech.locator("main")).to_contain_text("Expected back")
    engineer.reload()
    expect(engineer.locator("main")).to_contain_text("back")
    assert Fault.objects.get().expected_back == back

    # The calendar feed shows the session, without signing in.
    phone.goto(f"{live_site}/calendars")
    axe(phone)
    make = phone.get_by_role("button", name=re.compile("make", re.I)).first
    make.click()
    address = phone.locator("input[readonly]").first.input_value()
    answer = open_page().request.get(re.sub("^https?://[^/]+", live_site, address))
    calendar = vobject.readOne(answer.text())
    starts = {event.dtstart.value for event in calendar.vevent_list}
    assert session.downbeat in starts or session.load_in in starts

    # The manager cancels, with a reason; nothing is left to set up.
    manager.goto(f"{live_site}/sessions/{session.pk}")
    manager.get_by_role("link", name="Cancel").click()
    axe(manager)
    manager.get_by_label("the client", exact=True).check()
    manager.get_by_label(re.compile("why", re.I)).fill("The trumpet player is ill")
    manager.get_by_role("button", name=re.compile("cancel", re.I)).click()
    expect(manager.locator("main")).to_contain_text("The trumpet player is ill")
    session.refresh_from_db()
    assert session.cancelled
    assert not session.claims.exists()
    phone.goto(f"{live_site}/day")
    expect(phone.get_by_role("heading", level=1)).to_have_text("Nothing for you today")
