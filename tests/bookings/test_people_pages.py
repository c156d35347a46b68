"""A person's page: who sees it, the usual week, leave, the next calls and the rest between them."""

from __future__ import annotations

from datetime import time
from typing import Any

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext

from bookings.models import Crew
from bookings.people.leave import NothingLeft, Over, enter_leave, take_back
from studio.claims import Conflict, Wanted, take
from studio.models import Claim, Leave, Person, Role, WorkingHours
from tests.bookings.cast import browser_of, called, make_session, manager, said
from tests.house import at, make_person, make_room, make_site, span

pytestmark = pytest.mark.django_db
NOW = at("2027-03-01 09:00")


@pytest.fixture(autouse=True)
def _clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def ida() -> Person:
    return make_person(Role.ENGINEER, name="Ida", site=make_site())


def away(person: Person) -> list[tuple[Any, Any]]:
    taken = Claim.objects.filter(resource=person.resource_id, purpose="leave").order_by("starts")
    return [(claim.starts, claim.ends) for claim in taken]


DAYS_OFF = ("2027-03-04 00:00", "2027-03-06 00:00")


def test_leave_takes_a_person_firmly(ida: Person) -> None:
    enter_leave(ida, ida, span(*DAYS_OFF), "Walking")
    with pytest.raises(Conflict) as refused:
        make_session(load_in="10:00", end="18:00", crew=[called(ida)])
    assert [clash.claim.reason for clash in refused.value.clashes if clash.claim] == ["leave"]


def test_leave_over_a_call_is_refused_and_nothing_is_kept(ida: Person) -> None:
    make_session(crew=[called(ida)])
    with pytest.raises(Conflict) as refused:
        enter_leave(manager(), ida, span(*DAYS_OFF))
    assert [clash.claim.reason for clash in refused.value.clashes if clash.claim] == ["Quartet"]
    assert not Leave.objects.exists()


def test_only_a_manager_lets_calls_stand_and_enters_the_time_between(ida: Person) -> None:
    make_session(load_in="10:00", end="18:00", crew=[called(ida)])
    with pytest.raises(PermissionDenied):
        enter_leave(ida, ida, span(*DAYS_OFF), around=True)
    enter_leave(manager(), ida, span(*DAYS_OFF), around=True)
    assert away(ida) == [
        (at("2027-03-04 00:00"), at("2027-03-04 10:00")),
        (at("2027-03-04 18:00"), at("2027-03-06 00:00")),
    ]
    with pytest.raises(NothingLeft):
        enter_leave(manager(), ida, span("2027-03-04 12:00", "2027-03-04 14:00"), around=True)


def test_hours_busy_elsewhere_do_not_refuse_leave(ida: Person) -> None:
    take(
        ida, [Wanted(ida.resource_id, span("2027-03-04 00:00", "2027-03-05 00:00"), Claim.Purpose.BUSY, "x")]
    )
    enter_leave(ida, ida, span(*DAYS_OFF))
    assert away(ida) == [(at("2027-03-05 00:00"), at("2027-03-06 00:00"))]


def test_leave_taken_back_frees_its_time_and_stays_on_record(ida: Person) -> None:
    leave = enter_leave(ida, ida, span(*DAYS_OFF))
    take_back(ida, leave)
    make_session(crew=[called(ida)])
    assert away(ida) == []
    assert Leave.objects.get() == leave


def test_leave_that_has_begun_ends_now_and_past_leave_stays(ida: Person) -> None:
    leave = enter_leave(ida, ida, span(*DAYS_OFF))
    with time_machine.travel(at("2027-03-05 10:00"), tick=False):
        take_back(ida, leave)
        assert away(ida) == [(at("2027-03-04 00:00"), at("2027-03-05 10:00"))]
    with time_machine.travel(at("2027-03-06 00:00"), tick=False), pytest.raises(Over):
        take_back(ida, leave)


def test_nobody_but_a_manager_enters_leave_for_another_or_opens_their_page(ida: Person) -> None:
    other = make_person(Role.ENGINEER)
    leave = enter_leave(ida, ida, span(*DAYS_OFF))
    for attempt in (lambda: enter_leave(other, ida, span(*DAYS_OFF)), lambda: take_back(other, leave)):
        with pytest.raises(PermissionDenied):
            attempt()
    browser = browser_of(other)
    assert browser.get(f"/people/{ida.pk}").status_code == 403
    assert browser.post(f"/people/{ida.pk}/hours", {}).status_code == 403
    assert browser.post(f"/people/{ida.pk}/leave", {}).status_code == 403
    assert browser.post(f"/leave/{leave.pk}/back").status_code == 403
    assert browser.get("/people").status_code == 403
    assert browser.get(f"/people/{other.pk}").status_code == 200


def typed_leave(**changed: str) -> dict[str, str]:
    typed = {"leave-starts": "2027-03-04T00:00", "leave-ends": "2027-03-06T00:00", "leave-why": "Walking"}
    return typed | changed


def test_the_page_says_which_calls_stand_in_the_way_and_keeps_what_was_typed(ida: Person) -> None:
    make_session(crew=[called(ida)])
    page = browser_of(ida).post(f"/people/{ida.pk}/leave", typed_leave())
    assert page.status_code == 422
    words = said(page)
    assert "Ida is taken: “Quartet”, Thu 4 March, 10:00 to 18:00 (called)." in words
    assert "Ask the manager to take you off these first." in words
    assert 'value="2027-03-04T00:00"' in page.content.decode()
    assert "remaining time" not in words


def test_the_manager_enters_the_remaining_time_from_the_page(ida: Person, desk: Browser) -> None:
    make_session(crew=[called(ida)])
    assert "let them stand" in said(desk.post(f"/people/{ida.pk}/leave", typed_leave()))
    page = desk.post(f"/people/{ida.pk}/leave", typed_leave(**{"leave-around": "on"}), follow=True)
    assert "Of it: Thu 4 March, 00:00 to 10:00; Thu 4 March, 18:00 to Sat 6 March, 00:00" in said(page)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"leave-ends": ""}, "Until when is it?"),
        ({"leave-ends": "2027-03-03T00:00"}, "It has to end after it begins (Thu 4 March, 00:00)."),
        ({"leave-starts": "2027-02-01T00:00", "leave-ends": "2027-02-02T00:00"}, "That is over."),
        ({"leave-starts": "2027-03-28T02:30"}, "There is no 02:30 on Sun 28 March"),
        ({"leave-starts": "soon"}, "“soon” is not a time."),
    ],
)
def test_leave_that_makes_no_sense_is_refused_in_words(ida: Person, changed: Any, sentence: str) -> None:
    page = browser_of(ida).post(f"/people/{ida.pk}/leave", typed_leave(**changed))
    assert page.status_code == 422
    assert sentence in said(page)
    assert not Leave.objects.exists()


def week(*rows: tuple[str, str, str], first: int = 0) -> dict[str, str]:
    typed = {"working_hours-TOTAL_FORMS": str(len(rows)), "working_hours-INITIAL_FORMS": str(first)}
    for number, row in enumerate(rows):
        for name, value in zip(("weekday", "starts", "ends"), row, strict=True):
            typed[f"working_hours-{number}-{name}"] = value
    return typed


def test_a_person_sets_their_usual_week(ida: Person) -> None:
    typed = week(("1", "10:00", "18:00"), ("5", "20:00", "02:00"), ("", "", ""))
    assert browser_of(ida).post(f"/people/{ida.pk}/hours", typed).status_code == 302
    rows = WorkingHours.objects.values_list("person", "weekday", "starts", "ends")
    assert list(rows) == [(ida.pk, 1, time(10), time(18)), (ida.pk, 5, time(20), time(2))]
    words = said(browser_of(ida).get(f"/people/{ida.pk}"))
    assert "Monday 10:00 to 18:00 Friday 20:00 to 02:00 of the next day" in words


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        (("", "10:00", "18:00"), "Which day of the week?"),
        (("9", "10:00", "18:00"), "Choose a day of the list."),
        (("1", "ten", "18:00"), "Write the hour like 10:00."),
        (("1", "10:00", ""), "Until when?"),
    ],
)
def test_a_row_that_is_not_whole_is_refused_in_words(ida: Person, row: Any, sentence: str) -> None:
    page = browser_of(ida).post(f"/people/{ida.pk}/hours", week(row))
    assert page.status_code == 422
    assert sentence in said(page)
    assert not WorkingHours.objects.exists()


def test_the_page_shows_calls_answers_and_rest(ida: Person) -> None:
    """Directive 2003/88/EC, Article 3: 23:00 to 08:00 is 9 h."""
    late = make_session(make_room("Loft"), "2027-03-02 14:00", "2027-03-02 23:00", crew=[called(ida)])
    make_session(make_room("Barn"), "2027-03-03 08:00", "2027-03-03 12:00", crew=[called(ida)], title="Brass")
    Crew.objects.filter(session=late).update(answer=Crew.Answer.ACCEPTED)
    words = said(browser_of(ida).get(f"/people/{ida.pk}"))
    assert "Quartet Tue 2 March, 14:00 to 23:00 · Loft, engineer accepted" in words
    assert "Brass Wed 3 March, 08:00 to 12:00 · Barn, engineer no answer" in words
    assert "Ida has 9 h of unbroken rest between “Quartet”" in words
    assert "Brass Wed 3 March, 08:00 to 12:00 after 9 h of rest" in words


def test_as_many_questions_for_many_calls_as_for_one(ida: Person, desk: Browser) -> None:
    counts = []
    for day in range(2, 8):
        make_session(
            make_room(f"Room {day}"), f"2027-03-0{day} 10:00", f"2027-03-0{day} 18:00", crew=[called(ida)]
        )
        enter_leave(ida, ida, span(f"2027-04-0{day} 10:00", f"2027-04-0{day} 18:00"))
        if day in (2, 7):
            with CaptureQueriesContext(connection) as asked:
                desk.get(f"/people/{ida.pk}")
            counts.append(len(asked))
    assert counts[0] == counts[1]


def test_the_list_of_people_names_the_next_call(ida: Person, desk: Browser) -> None:
    make_session(crew=[called(ida)])
    with CaptureQueriesContext(connection) as asked:
        assert "Ida engineer Mill Lane not set: any hour Thu 4 March, 10:00" in said(desk.get("/people"))
    few = len(asked)
    for _ in range(5):
        make_person(Role.ASSISTANT)
    with CaptureQueriesContext(connection) as asked:
        desk.get("/people")
    assert len(asked) == few
