"""The floor plan on its page: read, moved by hand, refused, as CSV; the house's own drawing of a room."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
import time_machine
from django.test import Client as Browser

from bookings.booking import book, change
from bookings.drafts import as_draft
from bookings.models import Job, Session
from studio.models import Person, Role, Room, RoomFloor
from tasks.floor.known import runs_for
from tasks.models import SourcePlace
from tasks.wanted import needs_of
from tests.house import make_person
from tests.tasks.test_plan_session import MONDAY, draft, hall, job, manager

__all__ = ["hall", "job", "manager"]
pytestmark = pytest.mark.django_db
DRAWN = {
    "use": "live",
    "outline": "0, 0\n9, 0\n9, 7\n0, 7",
    "boxes": "Box A: 0, 3; lines 1-16",
    "doors": "Door: 4, 7 to 5, 7",
    "windows": "Pane: 3, 0 to 6, 0; sees Control",
    "fixed": "",
}


@pytest.fixture(autouse=True)
def _frozen() -> Iterator[None]:
    with time_machine.travel(MONDAY, tick=False):
        yield


@pytest.fixture
def browser(manager: Person) -> Browser:
    found = Browser()
    found.force_login(manager)
    return found


@pytest.fixture
def session(browser: Browser, hall: Room, job: Job, manager: Person) -> Session:
    assert browser.post(f"/house/rooms/{hall.pk}/floor", DRAWN).status_code == 302
    return book(manager, draft(job, hall, "lead vocal\nsnare top\ntrumpet"))


def fields(page: str) -> dict[str, str]:
    return dict(re.findall(r'name="(at-\w+-[xy])" value="([^"]+)"', page))


def token(page: str, key: str) -> str:
    """The name of a source's fields."""
    return re.search(rf"<b>{key}</b>.*?name=\"at-(\w+)-x\"", page, re.DOTALL)[1]  # type: ignore[index]


def test_a_room_is_drawn_under_house_and_what_is_wrong_stays_typed(browser: Browser, hall: Room) -> None:
    typed = DRAWN | {"boxes": "Box A: 0, 3", "doors": "Door: 4, 4 to 5, 4"}
    page = browser.post(f"/house/rooms/{hall.pk}/floor", typed)
    assert page.status_code == 422
    words = page.content.decode()
    assert "Say which lines end at Box A" in words
    assert "isn&#x27;t in a wall" in words
    assert "Box A: 0, 3" in words
    assert not RoomFloor.objects.exists()
    preview = browser.post(f"/house/rooms/{hall.pk}/floor/preview", typed).content.decode()
    assert 'role="img"' in preview
    assert "63 square metres" in preview
    assert browser.post(f"/house/rooms/{hall.pk}/floor", DRAWN).status_code == 302
    row = RoomFloor.objects.get()
    assert row.outline == [[0, 0], [9, 0], [9, 7], [0, 7]]
    assert "Pane: 3, 0 to 6, 0; sees Control" in browser.get(f"/house/rooms/{hall.pk}/floor").content.decode()
    assert browser.post(f"/house/rooms/{hall.pk}/floor", {"use": "live"}).status_code == 302
    assert not RoomFloor.objects.get().outline


def test_only_who_sets_up_the_house_draws(hall: Room) -> None:
    browser = Browser()
    browser.force_login(make_person(Role.ENGINEER))
    assert browser.get(f"/house/rooms/{hall.pk}/floor").status_code == 403


def test_the_plan_is_drawn_told_in_words_and_as_a_table(browser: Browser, session: Session) -> None:
    page = browser.get(f"/sessions/{session.pk}/floor").content.decode()
    assert 'role="img"' in page
    assert "<title id=" in page
    assert "Lead vocal at " in page
    assert "Box A" in page
    assert "True at " in page
    rows = list(
        csv.reader(io.StringIO(browser.get(f"/sessions/{session.pk}/floor.csv").content.decode("utf-8-sig")))
    )
    assert rows[0][:3] == ["Inputs", "Source", "Room"]
    assert [row[1] for row in rows[1:]] == ["Lead vocal", "Drums", "Trumpet"]
    assert all(row[7].endswith(" m") for row in rows[1:])


def test_a_source_is_moved_by_hand_and_stays_when_the_list_changes(
    browser: Browser, session: Session, manager: Person
) -> None:
    address = f"/sessions/{session.pk}/floor"
    page = browser.get(address).content.decode()
    vocal, typed = token(page, "Lead vocal"), fields(page)
    assert browser.post(address, typed).status_code == 302
    assert not SourcePlace.objects.exists()  # nothing was moved
    refused = browser.post(address, typed | {f"at-{vocal}-x": "0.1"})
    assert refused.status_code == 422
    assert "outside the room" in refused.content.decode()
    assert 'value="0.1"' in refused.content.decode()
    for bad in ("nan", "1e9", "here", ""):
        assert browser.post(address, typed | {f"at-{vocal}-x": bad}).status_code == 422
    assert browser.post(address, typed | {f"at-{vocal}-x": "7,5", f"at-{vocal}-y": "1.5"}).status_code == 302
    row = SourcePlace.objects.get()
    assert (row.key, row.x, row.y, row.by) == ("Lead vocal", 7.5, 1.5, manager)
    longer = replace(as_draft(session), instrument_list=f"{session.instrument_list}\nrack tom")
    change(manager, session.pk, session.version, longer)
    page = browser.get(address).content.decode()
    assert "Put there by hand." in page
    assert "Changed since you last looked" in page
    back = fields(page) | {f"at-{vocal}-back": "on"}
    assert browser.post(address, back).status_code == 302
    assert not SourcePlace.objects.exists()


def test_a_room_that_nobody_drew_is_a_rectangle_and_says_so(
    browser: Browser, hall: Room, job: Job, manager: Person
) -> None:
    session = book(manager, draft(job, hall, "lead vocal"))
    page = browser.get(f"/sessions/{session.pk}/floor").content.decode()
    assert "this plain rectangle is guessed" in page
    assert runs_for(hall, needs_of("lead vocal")).metres == {}


def test_planning_knows_the_cable_to_the_nearest_box(session: Session, hall: Room) -> None:
    found = runs_for(hall, needs_of("lead vocal\nsnare top"), session).metres
    assert set(found) == {1, 2}
    assert all(3 < metres < 20 for metres in found.values())


def test_the_page_asks_equally_often_however_long_the_list(
    browser: Browser, hall: Room, job: Job, manager: Person, django_assert_max_num_queries: object
) -> None:
    browser.post(f"/house/rooms/{hall.pk}/floor", DRAWN)
    counts = []
    for day, text in ((2, "lead vocal"), (4, "lead vocal\nsnare top\nrack tom\ntrumpet\nbass DI")):
        session = book(manager, draft(job, hall, text, day=day))
        for page in ("floor", "headphones", "recall"):
            browser.get(f"/sessions/{session.pk}/{page}")
            with django_assert_max_num_queries(45) as asked:  # type: ignore[operator]
                assert browser.get(f"/sessions/{session.pk}/{page}").status_code == 200
            counts.append((page, len(asked)))
    assert counts[0] == counts[3]
    assert counts[1] == counts[4]
