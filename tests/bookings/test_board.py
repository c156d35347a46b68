"""The board as people see it."""

from __future__ import annotations

from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext

from bookings import needs
from bookings.booking import cancel, hand_over
from bookings.models import Session
from studio.models import Claim, Role
from tests.bookings.cast import browser_of, called, make_session, manager, said
from tests.house import at, make_person, make_room, make_site

pytestmark = pytest.mark.django_db


def rows(page: Any) -> dict[str, list[str]]:
    """The titles on each room's row."""
    board = page.context["board"]
    return {row.name: [shown.title for shown in row.blocks] for row in board.rows}


def test_a_session_lies_on_its_room_with_words_and_a_link(desk: Browser) -> None:
    session = make_session(make_room("Weaving Hall"), "09:20", "19:00", downbeat="10:00", setup_minutes=70)
    page = desk.get("/board?day=2027-03-04")
    assert rows(page) == {"Weaving Hall": ["Quartet"]}
    assert "Quartet 10:00 to 19:00" in said(page)
    assert "setup from 08:10, load-in 09:20" in said(page)
    html = page.content.decode()
    assert f'href="/sessions/{session.pk}"' in html
    for pattern in ("t-setup", "t-session"):
        assert f'class="{pattern}" style=' in html


def test_a_session_on_the_composite_shows_on_its_parts_and_says_for_which_room(desk: Browser) -> None:
    hall = make_room("Weaving Hall", parts=[make_room("Booth 1"), make_room("Booth 2")])
    make_session(hall, "10:00", "12:00", title="Brass band")
    page = desk.get("/board?day=2027-03-04")
    assert rows(page) == {
        "Weaving Hall": ["Brass band"],
        "Booth 1": ["Brass band"],
        "Booth 2": ["Brass band"],
    }
    assert said(page).count("10:00 to 12:00, for Weaving Hall") == 2
    assert "takes Booth 1, Booth 2" in said(page)
    assert said(page).count("part of Weaving Hall") == 2


def test_a_hold_is_dashed_and_called_one(desk: Browser) -> None:
    make_session(make_room(), "10:00", "12:00", status=Session.Status.HELD)
    page = desk.get("/board?day=2027-03-04")
    assert "hold: Quartet" in said(page)
    assert 'class="t-hold" style=' in page.content.decode()
    assert 'class="t-session" style=' not in page.content.decode()


def test_a_closure_is_crossed_and_gives_its_reason(desk: Browser) -> None:
    room = make_room()
    Claim.objects.create(
        resource_id=room.resource_id,
        starts=at("2027-03-04 08:00"),
        ends=None,
        purpose=Claim.Purpose.CLOSURE,
        reason="air handling",
        origin=room.site,
    )
    page = desk.get("/board?day=2027-03-04")
    assert "closed: air handling from 08:00, end not known" in said(page)
    assert 'class="t-closed" style=' in page.content.decode()


def test_a_cancelled_session_is_gone(desk: Browser) -> None:
    session = make_session(make_room("Kiln"))
    cancel(manager(), session.pk, 1, "rain")
    assert rows(desk.get("/board?day=2027-03-04")) == {"Kiln": []}
    assert "free" in said(desk.get("/board?day=2027-03-04"))


def test_the_day_is_the_site_s_own(desk: Browser) -> None:
    """Field case F59: at half past midnight in Berlin it is the 11th, and both night sessions are on view."""
    kiln, loft = make_room("Kiln"), make_room("Loft")
    make_session(kiln, "2026-06-10 23:30", "2026-06-11 01:00", title="Late drums")
    make_session(loft, "2026-06-11 00:15", "2026-06-11 03:00", title="Night mix")
    with time_machine.travel(at("2026-06-11 00:30"), tick=False):
        page = desk.get("/board")
        assert "Thu 11 June 2026" in said(page)
        assert rows(page) == {"Kiln": ["Late drums"], "Loft": ["Night mix"]}
        assert "Wed 23:30 to 01:00" in said(page)
        assert said(page).count(" now ") >= 2
        yesterday = desk.get("/board?day=2026-06-10")
    assert rows(yesterday) == {"Kiln": ["Late drums"], "Loft": []}


@pytest.mark.parametrize(
    ("day", "hours"), [("2026-03-29", 23), ("2026-10-25", 25)]
)  # field case F59; tzdata 2026, europe: rule EU
def test_change_days_are_23_and_25_hours_long(desk: Browser, day: str, hours: int) -> None:
    make_session(make_room(), f"{day} 00:00", f"{day} 23:59")
    window = desk.get(f"/board?day={day}").context["board"].window
    assert (window.end - window.start).total_seconds() == hours * 3600


def test_each_site_has_its_own_board_and_clock(desk: Browser) -> None:
    make_room("Kiln", make_site("Mill Lane"))
    pier = make_site("Quay House", "America/New_York")
    make_session(make_room("Pier Room", pier), "10:00", "12:00")
    page = desk.get(f"/board?site={pier.pk}&day=2027-03-04")
    assert rows(page) == {"Pier Room": ["Quartet"]}
    assert "10:00 to 12:00" in said(page)
    assert "America/New_York" in said(page)
    assert f"site={make_site('Mill Lane').pk}" in page.content.decode()


def test_one_s_own_site_comes_first() -> None:
    make_room("Kiln", make_site("Mill Lane"))
    pier = make_site("Quay House", "America/New_York")
    person = make_person(Role.ASSISTANT, site=pier)
    assert browser_of(person).get("/board").context["asked"].site == pier


def test_the_week_begins_on_monday_and_names_its_days(desk: Browser) -> None:
    """ISO 8601: Monday is the first day of the week."""
    room = make_room()
    make_session(room, "2027-03-01 10:00", "2027-03-01 12:00", title="Monday")
    make_session(room, "2027-03-07 20:00", "2027-03-07 23:00", title="Sunday")
    make_session(room, "2027-03-08 00:00", "2027-03-08 02:00", title="Next")
    page = desk.get("/board?day=2027-03-04&view=week")
    assert "Mon 1 March to Sun 7 March 2027" in said(page)
    assert rows(page) == {"Weaving Hall": ["Monday", "Sunday"]}
    assert "Mon 10:00 to 12:00" in said(page)


def test_the_line_for_now_stands_where_now_is() -> None:
    make_room()
    with time_machine.travel(at("2027-03-04 15:00"), tick=False):
        desk = browser_of(manager())
        page = desk.get("/board")
        assert page.context["board"].now_at == 50.0  # halfway from 07:00 to 23:00
        assert 'class="board-now"' in page.content.decode()
        assert 'class="board-now"' not in desk.get("/board?day=2027-03-05").content.decode()


def test_before_today_and_after_are_links(desk: Browser) -> None:
    make_room()
    links = desk.get("/board?day=2027-03-01").context["links"]
    assert "day=2027-02-28" in links["before"]
    assert "day=2027-03-02" in links["after"]
    assert "day=2027-03-08" in desk.get("/board?day=2027-03-01&view=week").context["links"]["after"]


@pytest.mark.parametrize(
    "day", ["rubbish", "2027-02-30", "0001-01-01", "9999-12-31", "1999-12-31", "2027-3-4'"]
)
def test_a_day_that_makes_no_sense_shows_today_and_says_so(desk: Browser, day: str) -> None:
    make_room()
    page = desk.get("/board", {"day": day, "view": "century", "site": "x"})
    assert page.status_code == 200
    assert f"“{day}” is not a day on this board. This is today." in said(page)


def test_a_house_without_a_site_says_so(desk: Browser) -> None:
    assert "The house has no site yet" in said(desk.get("/board"))


def test_what_is_open_for_tomorrow_is_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(needs, "_looks", [])  # only what bookings itself knows
    edda, asa = make_person(Role.ENGINEER), make_person(Role.ASSISTANT)
    full = [called(edda), called(asa, Role.ASSISTANT)]
    make_session(make_room("Kiln"), "10:00", "12:00", title="Ready", crew=full, instrument_list="2 vln")
    make_session(make_room("Loft"), "10:00", "12:00", title="Bare")
    make_session(make_room("Dye Room"), "2027-03-05 10:00", "2027-03-05 12:00", title="Later")
    with time_machine.travel(at("2027-03-03 17:00"), tick=False):
        desk = browser_of(manager())
        words = said(desk.get("/board/open"))
    assert "Bare , Loft: no instrument list, no engineer, no assistant" in words
    assert "Ready" not in words
    assert "Later" not in words


def test_what_last_night_left_open_is_listed_until_the_times_are_in() -> None:
    session = make_session(make_room("Kiln"), "20:00", "23:00", title="Night drums")
    with time_machine.travel(at("2027-03-05 09:00"), tick=False):
        desk = browser_of(manager())
        assert "Night drums , Kiln: times in and out: not entered" in said(desk.get("/board/open"))
        hand_over(manager(), session.pk, session.load_in, session.end)
        assert "Night drums , Kiln: breakdown: 0 of " in said(desk.get("/board/open"))
        session.tasks.update(done_at=session.end)
        assert "Was last night finished? Yes: nothing is left to do." in said(desk.get("/board/open"))


def test_everyone_in_the_house_sees_the_board_but_only_managers_the_way_to_book() -> None:
    make_session(make_room())
    for role in Role:
        page = browser_of(make_person(role)).get("/board?day=2027-03-04")
        assert page.status_code == 200
        assert ("/sessions/new" in page.content.decode()) is (role == Role.MANAGER)
    assert Browser().get("/board").status_code == 302


def queries(desk: Browser, address: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as captured:
        assert desk.get(address).status_code == 200
    return len(captured)


def test_the_number_of_queries_stays_the_same_for_forty_rooms_and_thousands_of_claims(desk: Browser) -> None:
    """The target of at most 12 queries is the house's own."""
    room = make_room("Room 0")
    make_session(room, "10:00", "12:00")
    desk.get("/board?day=2027-03-04&view=week")
    before = queries(desk, "/board?day=2027-03-04&view=week")
    rooms = [room, *(make_room(f"Room {number}") for number in range(1, 40))]
    fill(rooms)
    assert Claim.objects.count() > 3000
    page_queries = queries(desk, "/board?day=2027-03-04&view=week")
    assert page_queries == before
    assert page_queries <= 12


def fill(rooms: list[Any]) -> None:
    """A session every three hours for a week in each room but the first hours, written past the use case."""
    first = Session.objects.get()
    sessions, claims = [], []
    start = at("2027-03-01 00:00")
    for room in rooms[1:]:
        for number in range(0, 168, 2):
            load_in = start + (at("2027-03-01 01:00") - start) * number
            end = load_in + (at("2027-03-01 02:00") - start) / 2
            times = {
                "setup_at": load_in,
                "load_in": load_in,
                "downbeat": load_in,
                "end": end,
                "clear_at": end,
            }
            sessions.append(
                Session(
                    job=first.job, room=room, title=f"S{number}", made_at=load_in, changed_at=load_in, **times
                )
            )
    kind = Claim.objects.first().origin_type  # type: ignore[union-attr]
    for session in Session.objects.bulk_create(sessions):
        claims.append(
            Claim(
                resource_id=session.room.resource_id,
                starts=session.load_in,
                ends=session.end,
                purpose="session",
                reason=session.title,
                origin_type=kind,
                origin_id=session.pk,
            )
        )
    Claim.objects.bulk_create(claims)


def test_a_composite_whose_part_is_taken_is_not_called_free(desk: Browser) -> None:
    booth = make_room("Booth")
    make_room("Weaving Hall", parts=[booth, make_room("Floor")])
    assert "free but for" not in said(desk.get("/board?day=2027-03-04"))
    make_session(booth, "09:20", "19:00", downbeat="10:00")
    assert "free but for Booth" in said(desk.get("/board?day=2027-03-04"))
