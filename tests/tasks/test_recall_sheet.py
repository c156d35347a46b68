"""Settings by exact unit: noted with photos, restored in the job's next session, with what befell the unit since."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client as Browser
from PIL import Image

from bookings.booking import book
from bookings.models import Job, Session
from studio.faults import report_fault
from studio.models import Fault, GearUnit, Person, Photo, Role, Room
from tasks.follow import replan_stale
from tasks.models import UnitSetting
from tests.house import at, make_person
from tests.tasks.test_plan_session import MONDAY, draft, hall, job, manager

__all__ = ["hall", "job", "manager"]
pytestmark = pytest.mark.django_db
LIST = "lead vocal\nsnare top"


@pytest.fixture(autouse=True)
def _kept_apart(tmp_path: Path, settings: Any) -> Iterator[None]:
    settings.MEDIA_ROOT = tmp_path
    with time_machine.travel(MONDAY, tick=False):
        yield


@pytest.fixture
def browser() -> Browser:
    found = Browser()
    found.force_login(make_person(Role.ASSISTANT, name="Ines"))
    return found


def picture() -> SimpleUploadedFile:
    data = io.BytesIO()
    Image.new("RGB", (40, 30), (200, 10, 10)).save(data, "PNG")
    return SimpleUploadedFile("face.png", data.getvalue(), content_type="image/png")


def sessions(job: Job, hall: Room, manager: Person) -> tuple[Session, Session, GearUnit]:
    first = book(manager, draft(job, hall, LIST))
    second = book(manager, draft(job, hall, LIST, day=9))
    return first, second, first.plan.inputs.get(label="Lead vocal").unit


def test_what_is_noted_is_on_the_checklist_of_the_next_session(
    job: Job, hall: Room, manager: Person, browser: Browser
) -> None:
    first, second, vocal = sessions(job, hall, manager)
    address = f"/sessions/{first.pk}/recall"
    sent = {f"unit-{vocal.pk}-words": " Cardioid, pad out ", f"unit-{vocal.pk}-photo": picture()}
    assert browser.post(address, sent).status_code == 302
    row = UnitSetting.objects.get()
    assert (row.words, row.by.name, row.photos.count()) == ("Cardioid, pad out", "Ines", 1)  # type: ignore[union-attr]
    assert f"/photos/{Photo.objects.get().pk}" in browser.get(address).content.decode()
    replan_stale()
    task = second.tasks.get(title=f"Set {vocal} as in “{first.title}”")
    assert ["Settings", "Cardioid, pad out"] in task.details
    assert ["Photos", "1 on the recall sheet"] in task.details
    page = browser.get(f"/sessions/{second.pk}/recall").content.decode()
    assert "As it was set before" in page
    assert "Cardioid, pad out" in page
    assert browser.post(address, {f"unit-{vocal.pk}-words": "Cardioid, pad out"}).status_code == 302
    assert UnitSetting.objects.get().photos.count() == 1  # nothing is lost by sending the same words


def test_what_befell_the_unit_since_is_said_and_who_stands_in(
    job: Job, hall: Room, manager: Person, browser: Browser
) -> None:
    first, second, vocal = sessions(job, hall, manager)
    browser.post(f"/sessions/{first.pk}/recall", {f"unit-{vocal.pk}-words": "Omni"})
    with time_machine.travel(at("2027-03-05 10:00"), tick=False):
        report_fault(manager, vocal, None, Fault.Effect.DEAD)
        replan_stale()
        now = Session.objects.get(pk=second.pk).plan.inputs.get(label="Lead vocal").unit
        assert now != vocal
        task = second.tasks.get(title__startswith=f"Set {now} like {vocal}")
        assert f"{vocal} is not in this session; {now} does its work: set it by ear." in task.caution
        assert f"{vocal}: does not work at all: reported, Fri 5 March, 10:00." in task.caution
        page = browser.get(f"/sessions/{second.pk}/recall").content.decode()
        assert f"{now} does its work" in page


def test_a_file_that_is_no_picture_keeps_what_was_typed_and_saves_nothing(
    job: Job, hall: Room, manager: Person, browser: Browser
) -> None:
    first, _, vocal = sessions(job, hall, manager)
    words, photo = f"unit-{vocal.pk}-words", f"unit-{vocal.pk}-photo"
    page = browser.post(
        f"/sessions/{first.pk}/recall", {words: "Omni", photo: SimpleUploadedFile("face.jpg", b"no picture")}
    )
    assert page.status_code == 422
    assert "no picture that can be read" in page.content.decode()
    assert "Omni" in page.content.decode()
    assert browser.post(f"/sessions/{first.pk}/recall", {words: "x" * 2001}).status_code == 422
    assert not UnitSetting.objects.exists()
    tech = Browser()
    tech.force_login(make_person(Role.TECH))
    assert tech.post(f"/sessions/{first.pk}/recall", {words: "Omni"}).status_code == 403
