"""The board's other views: four weeks, people, gear, and what the patterns tell apart."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext

from bookings.models import Crew, Session, SessionKind
from studio.models import Claim, GearModel, Leave, Person, Role
from studio.spans import Span
from tests.bookings.cast import browser_of, called, make_session, manager, said
from tests.house import (
    at,
    channel,
    make_many_units,
    make_mic,
    make_model,
    make_person,
    make_preamp,
    make_room,
    make_site,
    make_stock,
    make_unit,
    span,
    take_gear,
)

pytestmark = pytest.mark.django_db
DAY = "/board?day=2027-03-04"
MARCH_4 = span("2027-03-04 10:00", "2027-03-04 18:00")


@pytest.fixture(autouse=True)
def the_day_before() -> Any:
    with time_machine.travel(at("2027-03-03 12:00"), tick=False):
        yield


@pytest.fixture
def desk(db: None, the_day_before: Any) -> Browser:
    return browser_of(manager())


def rows(page: Any) -> dict[str, list[str]]:
    return {row.name: [shown.whole for shown in row.blocks] for row in page.context["board"].rows}


def patterns(page: Any) -> set[str]:
    """Those that lie on the board itself, not in its legend."""
    return set(re.findall(r'class="t-(\w+)" style=', page.content.decode()))


def kind(name: str) -> SessionKind:
    return SessionKind.objects.get(name=name, site__name="Mill Lane")


def take(person: Person, purpose: Claim.Purpose, when: Span, reason: str) -> None:
    """A claim on a person as leave and imported hours make it."""
    leave = Leave.objects.create(person=person, starts=when.start, ends=when.end or when.start, why=reason)
    Claim.objects.create(
        resource=person.resource,
        starts=when.start,
        ends=when.end,
        purpose=purpose,
        reason=reason,
        origin=leave,
    )


def test_every_kind_of_time_has_its_own_word_and_pattern(desk: Browser) -> None:
    room = make_room("Kiln")
    make_session(
        room, "09:00", "12:00", downbeat="10:00", setup_minutes=60, spare_minutes=60, turnaround_minutes=30
    )
    make_session(room, "14:00", "15:00", title="Piano", kind=kind("tuning or maintenance"))
    make_session(room, "15:00", "16:00", title="Air handling", kind=kind("closed"))
    make_session(room, "20:00", "21:00", title="Choir", status=Session.Status.HELD)
    page = desk.get(DAY)
    assert patterns(page) == {"setup", "session", "spare", "turnaround", "upkeep", "closed", "hold"}
    words = said(page)
    for word in (
        "setup",
        "session",
        "spare time agreed",
        "stays set",
        "turnaround",
        "hold",
        "upkeep",
        "closed",
    ):
        assert word in words
    assert "upkeep: Piano 14:00 to 15:00" in words
    assert "closed: Air handling" in words
    assert "1st hold: Choir" in words
    assert "setup from 08:00, load-in 09:00, spare time until 13:00, clear at 13:30" in words


def test_a_lockout_stays_set_between_its_days_and_says_so(desk: Browser) -> None:
    ten, ten_at_night = at("2027-03-04 10:00").time(), at("2027-03-04 22:00").time()
    make_session(make_room(), "2027-03-02 10:00", "2027-03-04 22:00", day_hours=(ten, ten_at_night))
    page = desk.get(f"{DAY}&view=week")
    assert patterns(page) == {"session", "stays"}
    assert "worked 10:00 to 22:00 each day, stays set between" in said(page)
    (block,) = page.context["board"].rows[0].blocks
    assert [piece.pattern for piece in block.block.pieces].count("stays") == 2


def test_rooms_taken_together_say_so_on_both_rows(desk: Browser) -> None:
    booth = make_room("Booth")
    kiln, loft = make_room("Kiln"), make_room("Loft", parts=[booth])
    session = make_session(kiln, "10:00", "12:00", beside=(loft,))
    found = rows(desk.get(DAY))
    assert found["Kiln"] == [f"Quartet, 10:00 to 12:00, with Loft, no. {session.pk}"]
    assert found["Loft"] == [f"Quartet, 10:00 to 12:00, with Kiln, no. {session.pk}"]
    assert found["Booth"] == [f"Quartet, 10:00 to 12:00, for Kiln, no. {session.pk}"]


def test_what_rooms_share_is_shown_last_and_can_not_be_booked(desk: Browser) -> None:
    machine = make_room("A machine room", bookable=False, order=0)
    make_room("Kiln", parts=[machine], order=1)
    make_room("Loft", parts=[machine], order=2)
    page = desk.get(DAY)
    assert [row.name for row in page.context["board"].rows] == ["Kiln", "Loft", "A machine room"]
    assert "shared by Kiln, Loft" in said(page)
    assert f"room={machine.pk}" not in page.content.decode()
    assert f'data-room="{machine.pk}"' not in page.content.decode()


def test_a_session_says_how_many_of_its_people_have_answered(desk: Browser) -> None:
    people = [make_person(Role.ENGINEER) for _ in range(4)]
    session = make_session(make_room(), crew=[called(person) for person in people])
    answers = [Crew.Answer.ACCEPTED, Crew.Answer.ACCEPTED, Crew.Answer.DECLINED, Crew.Answer.NONE]
    for crew, answer in zip(Crew.objects.order_by("pk"), answers, strict=True):
        Crew.objects.filter(pk=crew.pk).update(answer=answer)
    assert f"no. {session.pk}, 2 accepted, 1 declined, 1 not answered" in said(desk.get(DAY))
    with time_machine.travel(at("2027-03-05 12:00"), tick=False):
        assert "not answered" not in said(browser_of(manager()).get(DAY))


@pytest.mark.parametrize(
    ("answers", "mark"),
    [
        ((), ""),
        (("accepted", "accepted"), "full"),
        (("accepted", "none"), "half"),
        (("accepted", "tentative"), "half"),
        (("none", "declined"), "crossed"),
    ],
)
def test_each_view_marks_in_short_who_has_answered(
    desk: Browser, answers: tuple[str, ...], mark: str
) -> None:
    unit = make_unit("Old Ribbon")
    crew = [called(make_person(Role.ENGINEER)) for _ in answers]
    make_session(make_room(), crew=crew, wanted_units=(unit.pk,))
    for one, answer in zip(Crew.objects.order_by("pk"), answers, strict=True):
        Crew.objects.filter(pk=one.pk).update(answer=answer)
    for view in ("day", "week", "weeks"):
        for of in ("rooms", "gear"):
            page = desk.get(f"{DAY}&view={view}&of={of}&q=Old Ribbon")
            assert [shown.mark for shown in page.context["board"].rows[0].blocks] == [mark]
            on_board = re.findall(r'class="block-title"><svg class="mark mark-(\w+)"', page.content.decode())
            assert on_board == [mark] * bool(mark)


def test_four_weeks_begin_on_monday_and_give_dates(desk: Browser) -> None:
    """ISO 8601: Monday is the first day of the week."""
    room = make_room()
    for day, title in (("03-01", "First"), ("03-28", "Last"), ("03-29", "Next")):
        make_session(room, f"2027-{day} 10:00", f"2027-{day} 12:00", title=title)
    page = desk.get(f"{DAY}&view=weeks")
    assert "Mon 1 March to Sun 28 March 2027" in said(page)
    assert [words.split(",")[0] for words in rows(page)["Weaving Hall"]] == ["First", "Last"]
    assert "Sun 28 March 10:00 to 12:00" in said(page)
    board = page.context["board"]
    assert len(board.ticks) == 28
    assert (board.window.end - board.window.start) == timedelta(days=28) - timedelta(hours=1)  # 28 March 2027


def test_no_box_is_too_narrow_to_hit_however_short_the_session(desk: Browser) -> None:
    """24 by 24 CSS pixels: WCAG 2.2 success criterion 2.5.8; the time of a board is at least 1150 px wide."""
    room = make_room()
    for hour in range(10, 22, 2):
        make_session(room, f"{hour}:00", f"{hour + 1}:00", title=str(hour))
    blocks = desk.get(f"{DAY}&view=weeks").context["board"].rows[0].blocks
    assert len(blocks) == 6
    assert min(shown.block.width for shown in blocks) * 1150 / 100 >= 24


def test_the_people_view_says_who_is_where_who_is_away_and_what_they_answered(desk: Browser) -> None:
    edda, asa, ida = (make_person(Role.ENGINEER, name=name) for name in ("Edda", "Asa", "Ida"))
    session = make_session(make_room("Kiln"), crew=[called(edda)])
    Crew.objects.update(answer=Crew.Answer.ACCEPTED)
    take(asa, Claim.Purpose.LEAVE, MARCH_4, "dentist")
    take(ida, Claim.Purpose.BUSY, MARCH_4, "busy elsewhere")
    page = desk.get(f"{DAY}&of=people")
    found = rows(page)
    assert found["Edda"] == [f"Quartet, 10:00 to 18:00, Kiln, no. {session.pk}, accepted"]
    assert found["Asa"] == ["leave: dentist, 10:00 to 18:00"]
    assert found["Ida"] == ["busy elsewhere, 10:00 to 18:00"]
    assert found["Mara"] == []
    assert patterns(page) == {"session", "closed", "busy"}


def test_why_somebody_is_away_is_for_themselves_and_those_who_book() -> None:
    asa = make_person(Role.ENGINEER, name="Asa", site=make_site())
    take(asa, Claim.Purpose.LEAVE, MARCH_4, "dentist")
    other = browser_of(make_person(Role.ENGINEER)).get(f"{DAY}&of=people")
    assert rows(other)["Asa"] == ["leave, 10:00 to 18:00"]
    assert "dentist" not in said(other)
    assert "dentist" in said(browser_of(asa).get(f"{DAY}&of=people"))


def test_a_freelancer_sees_their_own_row_and_no_other_view() -> None:
    edda = make_person(Role.ENGINEER, name="Edda", freelance=True)
    kiln = make_room("Kiln")
    make_session(kiln, "10:00", "12:00", title="Hers", crew=[called(edda)])
    make_session(kiln, "14:00", "16:00", title="Secret", crew=[called(make_person(Role.ENGINEER))])
    for of in ("rooms", "people", "gear"):
        page = browser_of(edda).get(f"{DAY}&of={of}")
        assert list(rows(page)) == ["Edda"]
        assert "Hers" in said(page)
        assert "Secret" not in said(page)
        assert [name for name, *_ in page.context["things"]] == ["people"]


def test_the_gear_view_shows_use_and_repair_of_units_and_their_channels(desk: Browser) -> None:
    session = make_session(make_room("Kiln"))
    rack, mic = make_preamp("Oak", 8), make_mic("M-1")
    for number in (1, 2, 3, 5):
        take_gear(channel(rack, number), MARCH_4, "Quartet", session)
    take_gear(mic, MARCH_4, "no output")
    Claim.objects.filter(resource=mic.resource).update(purpose=Claim.Purpose.REPAIR, ends=None)
    page = desk.get(f"{DAY}&of=gear")
    found = rows(page)
    assert found["Oak"] == [f"Quartet, 10:00 to 18:00, channels 1–3, 5, Kiln, no. {session.pk}"]
    assert found["M-1"] == ["out for repair: no output, from 10:00, end not known"]
    assert patterns(page) == {"session", "repair"}


def test_gear_is_filtered_by_kind_by_name_and_by_what_is_taken(desk: Browser) -> None:
    rack, _ = make_preamp("Oak", 2), make_preamp("Elm", 2)
    make_mic("M-1")
    take_gear(channel(rack, 2), MARCH_4, "Quartet", make_session())
    assert list(rows(desk.get(f"{DAY}&of=gear&kind=preamp"))) == ["Elm", "Oak"]
    assert list(rows(desk.get(f"{DAY}&of=gear&q=elm"))) == ["Elm"]
    assert list(rows(desk.get(f"{DAY}&of=gear&taken=1"))) == ["Oak"]
    assert "No gear here is like that." in said(desk.get(f"{DAY}&of=gear&kind=nonsense"))


def test_counted_stock_says_how_much_of_it_is_out(desk: Browser) -> None:
    booms = make_stock("short boom", 10)
    Claim.objects.create(
        resource=booms.resource,
        starts=MARCH_4.start,
        ends=MARCH_4.end,
        purpose=Claim.Purpose.GEAR,
        exclusive=False,
        quantity=6,
        reason="Quartet",
        origin=make_session(make_room("Kiln")),
    )
    (words,) = rows(desk.get(f"{DAY}&of=gear&kind=stock"))["short boom"]
    assert "6 of 10, Kiln" in words


def queries(desk: Browser, address: str) -> int:
    with CaptureQueriesContext(connection) as captured:
        assert desk.get(address).status_code == 200
    return len(captured)


@pytest.mark.parametrize("of", ["rooms", "people", "gear"])
def test_no_view_asks_more_than_twelve_questions_however_much_is_on_it(desk: Browser, of: str) -> None:
    """The target of at most 12 queries is the house's own."""
    make_many_units(100, make_model(GearModel.Kind.COMPRESSOR))
    for number in range(5):
        edda = make_person(Role.ENGINEER, site=make_site())
        room = make_room(f"Room {number}", parts=[make_room(f"Booth {number}")])
        make_session(room, "10:00", "12:00", crew=[called(edda)])
        session = make_session(
            room, "14:00", "16:00", status=Session.Status.HELD, beside=[make_room(f"B{number}")]
        )
        take_gear(make_preamp(f"A{number}", 4), MARCH_4, "Quartet", session)
        if number == 0:
            desk.get(f"{DAY}&of={of}&view=weeks")
            few = queries(desk, f"{DAY}&of={of}&view=weeks")
    assert queries(desk, f"{DAY}&of={of}&view=weeks") == few <= 12


def test_gear_comes_in_pages(desk: Browser) -> None:
    make_many_units(90, make_model(GearModel.Kind.COMPRESSOR))
    first = desk.get(f"{DAY}&of=gear")
    assert "page 1 of 3, 90 in all" in said(first)
    assert list(rows(desk.get(f"{DAY}&of=gear&page=3"))) == [f"N-{number:04}" for number in range(81, 91)]
    assert desk.get(f"{DAY}&of=gear&page=x").status_code == 200
