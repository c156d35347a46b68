"""Chains on the page of inputs, as pictures and on the patch sheet, and the choice of what is inserted."""

from __future__ import annotations

import csv
import io
import re

import pytest
import time_machine
from django.test import Client as Browser

from bookings.booking import book
from bookings.models import Job, Session
from studio.models import GearUnit, Person, Role, Room
from tasks.chains.picture import LETTERS, Station, picture
from tasks.models import ChainWish, PlannedInput, PlannedInsert
from tests.house import make_person
from tests.tasks.test_chains_session import inserted, racks
from tests.tasks.test_plan_session import MONDAY, draft, hall, job, manager

__all__ = ["hall", "job", "manager", "racks"]


def test_a_picture_stacks_its_boxes_and_tells_them_in_words() -> None:
    long = "a sentence that is far longer than what fits in a line of the drawing at its size"
    made = picture(
        "Chain", [Station("Source", "Voice", (long,)), Station("Insert 1: open", "Limiter", is_open=True)]
    )
    first, second = made.boxes
    assert first.arrow == (first.y + first.height, second.y)
    assert second.y + second.height <= made.height
    assert second.arrow is None
    assert all(len(text.words) <= LETTERS for box in made.boxes for text in box.texts)
    assert all(box.y < text.y < box.y + box.height for box in made.boxes for text in box.texts)
    assert made.told == f"Source: Voice, {long}. Then Insert 1: open: Limiter."


@pytest.fixture
def session(hall: Room, manager: Person, job: Job, racks: list[GearUnit]) -> object:
    with time_machine.travel(MONDAY, tick=False):
        yield book(manager, draft(job, hall, "lead vocal\nlead vocal"))


def page(person: Person, path: str, **headers: str) -> str:
    browser = Browser()
    browser.force_login(person)
    response = browser.get(path, headers=headers)
    assert response.status_code == 200
    return response.content.decode()


@pytest.mark.django_db
def test_the_picture_goes_from_the_source_to_the_recorder(session: Session, manager: Person) -> None:
    first = PlannedInput.objects.get(plan__session=session, number=1)
    text = page(manager, f"/sessions/{session.pk}/inputs/{first.pk}/chain", **{"HX-Request": "true"})
    assert "<html" not in text
    assert 'role="img"' in text
    told = re.search(r"<desc[^>]*>(.*?)</desc>", text, re.S)
    assert told
    order = ["Source: Lead vocal", "Microphone: ", "phantom on", "Line: Line 1", "Preamp: Oak channel"]
    order += ["Insert 1: compressor: Scale channel", "Insert 2: limiter: Bar channel 1", "Recorder: Input 1"]
    places = [told.group(1).find(words) for words in order]
    assert -1 not in places
    assert places == sorted(places)
    assert "<html" in page(manager, f"/sessions/{session.pk}/inputs/{first.pk}/chain")


@pytest.mark.django_db
def test_pages_and_papers_say_what_is_inserted_and_what_is_still_open(
    session: Session, manager: Person
) -> None:
    text = page(manager, f"/sessions/{session.pk}/inputs")
    assert "Limiter, 20 to 1</b>: <a" in text
    assert "is still open: Every limiter within reach goes to input 1." in text
    assert page(manager, f"/sessions/{session.pk}/chains").count('role="img"') == 2
    assert "chain-open" in page(manager, f"/sessions/{session.pk}/chains")
    browser = Browser()
    browser.force_login(manager)
    patch = browser.get(f"/sessions/{session.pk}/papers/patch.csv").content.decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(patch)))
    assert re.fullmatch(r"Scale channel \d, then Bar channel 1", rows[0]["Inserts"])
    assert re.fullmatch(r"Scale channel \d, then Limiter, 20 to 1: open", rows[1]["Inserts"])
    sets = browser.get(f"/sessions/{session.pk}/papers/inserts.csv").content.decode("utf-8-sig")
    assert "ratio: 4 to 1; reduction: 2 to 4 dB on the needle where it is loud; threshold: down" in sets


@pytest.mark.django_db
def test_an_engineer_chooses_what_is_inserted_and_goes_back_to_what_is_usual(
    session: Session, manager: Person
) -> None:
    engineer = make_person(Role.ENGINEER)
    browser = Browser()
    browser.force_login(engineer)

    def choose(**fields: object) -> str:
        row = PlannedInput.objects.get(plan__session=session, number=2)
        path = f"/sessions/{session.pk}/inputs/{row.pk}/chain/choose"
        return browser.post(path, fields, follow=True).content.decode()

    choose(insert=["catch peaks", ""])
    assert [spot for label, _, spot in inserted(session) if label == "Lead vocal 2"] == ["Bar channel 1"]
    assert "Nothing is called loud here" in choose(insert=["loud"])
    assert "At most 4 inserts" in choose(insert=["catch peaks"] * 5)
    choose(insert=["", ""])
    assert {row.input.number for row in PlannedInsert.objects.select_related("input")} == {1}
    choose(usual="yes")
    assert not ChainWish.objects.exists()
    assert len(inserted(session)) == 4
    browser.force_login(make_person(Role.ASSISTANT))
    row = PlannedInput.objects.get(plan__session=session, number=2)
    assert browser.post(f"/sessions/{session.pk}/inputs/{row.pk}/chain/choose").status_code == 403
