"""Every address of the site, opened by a freelancer: not a word of a session that they aren't on."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from itertools import product
from typing import Any

import pytest
import time_machine
from django.test import Client as Browser
from django.urls import URLPattern, URLResolver, get_resolver

from bookings.booking import Called, book, hand_over
from bookings.calendar.feeds import make
from bookings.models import Crew, Feed, Session
from studio.access import FREELANCE_PAGES, OWN_ONLY
from studio.faults import report_fault
from studio.models import Fault, Leave, MicrophoneSpec, Person, Role, Room
from tasks.models import Plan, Task
from tests.bookings.cast import browser_of, make_draft, make_job, manager, said
from tests.house import (
    at,
    make_mic,
    make_person,
    make_preamp,
    make_room,
    make_site,
    make_stock,
    take_gear,
)

pytestmark = pytest.mark.django_db
NOW = at("2027-03-04 09:00")
SECRET = ["Velvet", "Quarry", "Copperline", "Night Ferry", "Odalys", "Brandt", "rumpled", "parrot"]
TAG = "Pair-1"


@dataclass(frozen=True)
class House:
    free: Person
    own: Session
    foreign: Session


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def house() -> House:
    """Today a foreign session has the only microphone; a foreign hold stands above one of the freelancer's own,
    and another has fallen for one."""
    site, loft, barn = make_site(), make_room("Loft"), make_room("Barn")
    free = make_person(Role.ENGINEER, Role.ASSISTANT, Role.TECH, name="Femke", site=site, freelance=True)
    other = make_person(Role.ENGINEER, Role.ASSISTANT, name="Odalys Brandt", site=site)
    own_job = make_job("Tin Harbour", "Second record")
    secret_job = make_job("Copperline Trust", "Night Ferry Suite", note="rumpled")
    mic = make_mic(TAG, MicrophoneSpec.Transducer.LARGE_CONDENSER, max_spl_db=160)
    make_preamp("Oak", 8, home_room=barn)
    make_stock("tall boom", 6)
    foreign = secret_session(loft, other, secret_job.pk, "10:00", "20:00")
    take_gear(mic, foreign.whole, foreign.title, foreign)
    secret_session(loft, other, secret_job.pk, "2027-03-03 10:00", "2027-03-03 20:00")
    secret_session(barn, other, secret_job.pk, "2027-03-06 10:00", "2027-03-06 20:00", status="held")
    report_fault(other, mic, None, Fault.Effect.NOISY)
    own = own_session(barn, free, own_job.pk, "10:00", "18:00", instrument_list="lead vocal")
    own_session(barn, free, own_job.pk, "2027-03-06 10:00", "2027-03-06 18:00", status="held")
    secret_session(barn, other, secret_job.pk, "2027-03-07 10:00", "2027-03-07 20:00", status="held")
    own_session(barn, free, own_job.pk, "2027-03-07 10:00", "2027-03-07 18:00", overrule="it was promised")
    Leave.objects.create(person=other, starts=NOW, ends=NOW + timedelta(days=1), why="parrot")
    for room in (None, loft):
        make(other, room)
    make(free)
    return House(free, own, foreign)


def secret_session(room: Room, who: Person, job_id: int, start: str, end: str, **fields: Any) -> Session:
    crew = [Called(who.pk, "engineer")]
    draft = make_draft(
        room, start, end, title="Velvet Quarry", job_id=job_id, note="rumpled", crew=crew, **fields
    )
    session = book(manager(), draft)
    if session.end < NOW:
        hand_over(manager(), session.pk, session.load_in, session.end, "parrot")
    return session


def own_session(
    room: Room, who: Person, job_id: int, start: str, end: str, overrule: str = "", **fields: Any
) -> Session:
    crew = [Called(who.pk, "assistant")]
    draft = make_draft(room, start, end, title="Overdubs", job_id=job_id, crew=crew, **fields)
    return book(manager(), draft, overrule=overrule)


def patterns(
    resolver: URLResolver, before: str = "", space: str = ""
) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Name, route and converters of every address of the site."""
    for each in resolver.url_patterns:
        route = before + str(each.pattern)
        if isinstance(each, URLResolver):
            yield from patterns(each, route, each.namespace or space)
        elif isinstance(each, URLPattern):
            yield f"{space}:{each.name}", route, dict(each.pattern.converters)


def addresses() -> Iterator[tuple[str, str]]:
    """Every address with every number that the house has, so that whatever is behind a number is asked for."""
    for name, route, converters in patterns(get_resolver()):
        values = [values_of(argument, kind) for argument, kind in converters.items()]
        for chosen in product(*values):
            address = route
            for value in chosen:
                address = re.sub(r"<[^>]+>", str(value), address, count=1)
            yield name, f"/{address}"


def values_of(argument: str, converter: Any) -> list[Any]:
    if argument == "token":
        return list(Feed.objects.filter(owner__freelance=True).values_list("token", flat=True))
    if argument == "tag":
        return [TAG, "Oak"]
    if argument == "slug":
        return ["rooms", "people", "units"]
    if type(converter).__name__ != "IntConverter":
        return ["x"]
    pks = {
        "session_id": Session,
        "task_id": Task,
        "person_id": Person,
        "leave_id": Leave,
        "feed_id": Feed,
        "call_id": Crew,
    }
    if argument in pks:
        return list(pks[argument].objects.values_list("pk", flat=True))
    return [1, 2, 3]


QUERIES = [
    *(
        f"/board?of={of}&view={view}"
        for of in ("rooms", "people", "gear")
        for view in ("day", "week", "weeks")
    ),
    "/board?day=2027-03-03",
    "/sessions?when=",
    "/sessions?when=over",
    "/sessions?q=velv",
    "/sessions?when=&q=ferr",
    "/sessions?day=2027-03-04",
    "/gear?q=pair",
    "/gear?q=oak&at=2027-03-04T12:00",
    "/gear/all/?state=faults",
    f"/gear/{TAG}?at=2027-03-04T12:00",
    "/gear/Oak?channel=1&at=2027-03-04T12:00",
]


def tells(answer: Any) -> list[str]:
    words = b"".join(answer).decode() if answer.streaming else answer.content.decode()
    return [secret for secret in SECRET if secret.casefold() in (words + str(answer.headers)).casefold()]


def test_every_page_is_silent_about_what_a_freelancer_is_not_on(house: House) -> None:
    browser = browser_of(house.free)
    asked: list[tuple[str, Callable[..., Any], str]] = [
        *((name, browser.get, address) for name, address in addresses()),
        *(("", browser.get, address) for address in QUERIES),
        *((name, browser.post, address) for name, address in addresses() if name != "studio:sign_out"),
    ]
    opened: set[str] = set()
    for name, ask, address in asked:
        answer = ask(address, follow=True)
        assert not tells(answer), f"{ask.__name__} {address}: {tells(answer)}"
        if answer.status_code == 200:
            opened.add(name)
        elif name and name not in FREELANCE_PAGES:
            assert answer.status_code in (403, 404), address
    assert {"bookings:board", "bookings:session", "bookings:sessions", "bookings:feed"} <= opened
    assert {"studio:unit", "tasks:my_day", "tasks:inputs", "bookings:person"} <= opened


def test_the_words_are_there_for_somebody_of_the_house(house: House) -> None:
    """Else the walk above would find nothing because there is nothing to find."""
    staff = browser_of(make_person(Role.ENGINEER, Role.ASSISTANT, Role.TECH, name="Stine"))
    found = {
        word
        for address in ("/board", "/sessions?when=", f"/sessions/{house.foreign.pk}", f"/gear/{TAG}")
        for word in tells(staff.get(address))
    }
    assert found >= {"Velvet", "Quarry", "Copperline", "Night Ferry", "Odalys", "Brandt", "rumpled"}


def test_their_own_sessions_are_there_and_others_are_not_found(house: House) -> None:
    browser = browser_of(house.free)
    assert "Overdubs" in said(browser.get("/sessions?when="))
    assert "Overdubs" in said(browser.get(f"/sessions/{house.own.pk}"))
    assert "Tin Harbour" in said(browser.get(f"/sessions/{house.own.pk}"))
    assert browser.get(f"/sessions/{house.foreign.pk}").status_code == 404
    assert browser.get(f"/sessions/{house.foreign.pk}/inputs").status_code == 404


def test_a_closed_page_says_why(house: House) -> None:
    page = browser_of(house.free).get("/bench")
    assert page.status_code == 403
    assert OWN_ONLY in said(page)


def test_gear_says_that_it_is_taken_but_not_by_whom(house: House) -> None:
    words = said(browser_of(house.free).get(f"/gear/{TAG}"))
    assert "in use, Thu 4 March, 10:00 to 20:00" in words
    assert "Velvet Quarry, Thu 4 March, 10:00 to 20:00" in said(browser_of(manager()).get(f"/gear/{TAG}"))


def test_a_plan_that_lacks_what_another_session_has_names_it_by_number(house: House) -> None:
    (need,) = Plan.objects.get(session=house.own).unfilled.all()
    assert f"in use by session no. {house.foreign.pk}" in need.reason
    assert need.reason in said(browser_of(house.free).get(f"/sessions/{house.own.pk}/inputs"))


def test_tasks_of_other_sessions_can_not_be_ticked(house: House) -> None:
    foreign = Task.objects.create(
        session=house.foreign, title="Fetch", stage=Task.Stage.SETUP, order=1, minutes=5
    )
    assert browser_of(house.free).post(f"/tasks/{foreign.pk}/tick", {"state": "done"}).status_code == 404
    foreign.refresh_from_db()
    assert foreign.done_at is None


def test_a_room_s_calendar_ends_when_its_owner_becomes_freelance(house: House) -> None:
    staff = make_person(Role.ENGINEER)
    token = make(staff, Room.objects.get(name="Loft")).token
    assert "Velvet Quarry" in Browser().get(f"/calendar/{token}.ics").content.decode()
    Person.objects.filter(pk=staff.pk).update(freelance=True)
    assert Browser().get(f"/calendar/{token}.ics").status_code == 404


def test_a_freelancer_who_manages_the_house_sees_it(house: House) -> None:
    boss = make_person(Role.MANAGER, freelance=True)
    assert browser_of(boss).get(f"/sessions/{house.foreign.pk}").status_code == 200
