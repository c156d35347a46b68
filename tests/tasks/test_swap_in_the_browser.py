"""The engineer's question on a phone: scan, see what is wrong and until when, take the nearest that works tonight."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
import zxingcpp
from django.core import mail
from django.utils import timezone
from PIL import Image
from playwright.sync_api import Page, expect

from bookings.booking import Called, Draft, book
from bookings.models import Client, Job, Session
from studio import notices
from studio.faults import report_fault, set_expected_back
from studio.models import Fault, MicrophoneSpec, Person, Role
from tasks.swaps import swap
from tests.browser import axe, open_settled, settle, sign_in
from tests.conftest import OpenPage
from tests.house import channel, make_mic, make_person, make_preamp, make_room, make_stock

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def tonight() -> Session:
    """Somebody put the snare on channel 3, which has no phantom and needs none for it; channel 4 is free."""
    hall, manager = make_room("Weaving Hall"), make_person(Role.MANAGER, Role.TECH, name="Adaeze")
    oak = make_preamp("Oak", 4, home_room=hall)
    make_mic("D-1", MicrophoneSpec.Transducer.MOVING_COIL, max_spl_db=160)
    for name in ("tall boom", "short boom", "straight", "clip"):
        make_stock(name, 4)
    for number in (1, 2):
        report_fault(manager, oak, channel(oak, number), Fault.Effect.DEAD)
    yesterday = timezone.now() - timedelta(days=1)
    fault = report_fault(manager, oak, channel(oak, 3), Fault.Effect.NO_PHANTOM, since=yesterday)
    set_expected_back(manager, fault, timezone.now() + timedelta(days=5))
    start = timezone.now() + timedelta(hours=3)
    job = Job.objects.create(client=Client.objects.create(name="Tin Harbour"), title="Second record")
    crew = (Called(make_person(Role.ASSISTANT, name="Ines").pk, Role.ASSISTANT),)
    draft = Draft(
        job_id=job.pk,
        room=hall,
        title="Voices",
        load_in=start,
        downbeat=start,
        end=start + timedelta(hours=4),
        instrument_list="snare top",
        crew=crew,
    )
    session = book(manager, draft)
    swap(manager, session.plan.inputs.get().pk, spot=("Oak", 3))
    return Session.objects.get()


def code_on(page: Page) -> str:
    """What a scanner reads off the sheet of labels as it stands on the screen."""
    shot = Image.open(io.BytesIO(page.locator(".label-one").last.screenshot(scale="device")))
    [found] = zxingcpp.read_barcodes(shot.convert("L"))
    return str(found.text)


def test_from_the_label_to_tonights_session_in_a_few_taps(
    tonight: Session, open_page: OpenPage, phone_page: Page, desk_page: Page, live_site: str, settings: object
) -> None:
    settings.SITE_ADDRESS = live_site  # type: ignore[attr-defined]
    assert tonight.plan.inputs.get().preamp_channel.number == 3
    sign_in(desk_page, live_site, Person.objects.get(name="Adaeze"))
    open_settled(desk_page, f"{live_site}/labels?tags=oak")
    axe(desk_page)
    address = code_on(desk_page)
    assert address.startswith(f"{live_site}/u/")

    sign_in(phone_page, live_site, make_person(Role.ENGINEER, name="Rui"))
    open_settled(phone_page, f"{address}/3")
    main = phone_page.locator("main")
    expect(main).to_contain_text("no phantom since")
    expect(main).to_contain_text("expected back")
    uses = phone_page.locator("#uses")
    expect(uses).to_contain_text("Voices")
    expect(uses).to_contain_text("same rack, no other patch but this one")
    axe(phone_page)
    assert phone_page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    uses.get_by_role("button", name="Use it").first.tap()
    expect(phone_page.locator("#said")).to_contain_text("Input 1 Snare top has Oak channel")
    settle(phone_page)
    axe(phone_page)
    after = Session.objects.get().plan.inputs.get()
    assert after.preamp_channel.number == 4
    details = [value for task in tonight.tasks.all() for _, value in task.details]
    assert any("channel 4" in value for value in details)
    assert not any("channel 3" in value for value in details)
    notices.send_due()
    told = [
        letter.to
        for letter in mail.outbox
        if "Snare top: Oak channel 4 instead of Oak channel 3" in letter.body
    ]
    assert told == [[Person.objects.get(name="Ines").email]]
