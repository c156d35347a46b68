"""A list of forty lines from the message to the print: pasted, two questions corrected, planned, one microphone
swapped, printed; on a phone by touch, and on a desk without the mouse."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from bookings.booking import Called, Draft, book
from bookings.models import Client, Job, Session
from studio.models import MicrophoneSpec, Phantom, Role
from tests.browser import axe, open_settled, settle, sign_in
from tests.house import make_di, make_mic, make_person, make_preamp, make_room, make_stock

pytestmark = pytest.mark.django_db(transaction=True)
BAND = ["kick in", "snare top", "hi-hat", "rack tom", "floor tom", "overhead L/R", "bass DI", "lead vocal"]
LIST = "\n".join(
    f"{n} {line}" for n, line in enumerate([*BAND * 4, *["trumpet"] * 6, "glorp", "zwirbel"], start=1)
)
Press = Callable[[Locator], None]


@pytest.fixture
def session() -> Session:
    """A room with gear for all of it, and a session that has no list yet."""
    hall = make_room("Weaving Hall", lines=64, recorder_inputs=64)
    kinds = MicrophoneSpec.Transducer
    for n in range(24):
        make_mic(f"D-{n}", kinds.MOVING_COIL, max_spl_db=165)
        make_mic(f"C-{n}", kinds.LARGE_CONDENSER, Phantom.NEEDS, max_spl_db=150)
        make_mic(f"S-{n}", kinds.SMALL_CONDENSER, Phantom.NEEDS, max_spl_db=150)
    for n in range(6):
        make_preamp(f"Oak {n}", 8, home_room=hall)
        make_di(f"Box-{n}")
    for stand in ("tall boom", "short boom", "straight", "clip"):
        make_stock(stand, 40)
    start = timezone.now() + timedelta(days=1)
    job = Job.objects.create(client=Client.objects.create(name="Tin Harbour"), title="Second record")
    manager = make_person(Role.MANAGER, Role.ENGINEER, name="Adaeze")
    crew = (Called(manager.pk, Role.ENGINEER),)
    return book(manager, Draft(job.pk, hall, "Band", start, start, start + timedelta(hours=6), crew=crew))


def test_by_touch_on_a_phone(session: Session, phone_page: Page, live_site: str) -> None:
    _from_message_to_print(session, phone_page, live_site, lambda what: what.tap())


def test_without_the_mouse_on_a_desk(session: Session, desk_page: Page, live_site: str) -> None:
    def press(what: Locator) -> None:
        tab_to(desk_page, what)
        desk_page.keyboard.press("Enter")

    _from_message_to_print(session, desk_page, live_site, press)


def tab_to(page: Page, what: Locator) -> None:
    for _ in range(600):
        if what.evaluate("each => each === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{what} isn't reached with the Tab key")


def _from_message_to_print(session: Session, page: Page, site: str, press: Press) -> None:
    sign_in(page, site, session.crew.get().person)
    open_settled(page, f"{site}/sessions/{session.pk}/change")
    page.locator("#id_instrument_list").focus()
    page.keyboard.insert_text(LIST)
    press(page.get_by_role("button", name="Save").first)
    page.wait_for_url(f"**/sessions/{session.pk}")
    open_settled(page, f"{site}/sessions/{session.pk}/inputs")
    for words, source in (("glorp", "tambourine"), ("zwirbel", "no input")):
        form = page.locator("form.correct", has=page.locator(f'input[value="{words}"]')).last
        means = form.locator('input[list="sources"]')
        means.focus()
        page.keyboard.insert_text(source)
        press(form.get_by_role("button", name="Remember it"))
        expect(page.locator("#said")).to_contain_text(f"“{words}” means {source}", timeout=30_000)
        settle(page)
    plan = Session.objects.get(pk=session.pk).plan
    assert (plan.status, plan.questions, plan.unfilled.count()) == ("proven", 0, 0)
    expect(page.locator(".input-list > li")).to_have_count(43)
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    axe(page)

    snare = plan.inputs.filter(label__startswith="Snare").first()
    row = page.locator(f"#input-{snare.number}")
    press(row.locator("summary", has_text="Change it"))
    press(row.get_by_role("link", name="Take another microphone or channel"))
    page.wait_for_url("**/swap")
    axe(page)
    press(page.get_by_role("button", name="Use it").first)
    expect(page.locator("#said")).to_contain_text(f"Input {snare.number} {snare.label} has")
    after = Session.objects.get(pk=session.pk).plan.inputs.get(number=snare.number)
    assert after.unit != snare.unit
    expect(page.locator("#by-hand")).to_contain_text(f"{snare.label} stays on {after.unit}")

    open_settled(page, f"{site}/sessions/{session.pk}/papers")
    page.emulate_media(media="print")
    expect(page.locator("main")).to_contain_text(after.unit.tag)
    expect(page.locator("header.top")).to_be_hidden()
    assert page.pdf(format="A4").startswith(b"%PDF")
