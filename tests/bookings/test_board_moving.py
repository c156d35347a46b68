"""Moving sessions on the board: what the server answers, saves, asks and takes back."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape
from typing import Any

import pytest
from django.test import Client as Browser

from bookings.booking import cancel, change
from bookings.drafts import as_draft
from bookings.models import Crew, Session
from studio.models import Role
from tests.bookings.cast import browser_of, called, make_draft, make_session, said
from tests.house import at, make_person, make_room, make_site

pytestmark = pytest.mark.django_db


def sent(session: Session, **more: Any) -> dict[str, Any]:
    """What board.js sends of a session as it stands, moved by `more`."""
    session = Session.objects.get(pk=session.pk)
    times = {name: getattr(session, name).isoformat() for name in ("load_in", "downbeat", "end")}
    return {"session": session.pk, "version": session.version, "room": session.room_id} | times | more


def put_down(desk: Browser, session: Session, **more: Any) -> Any:
    return desk.post("/board/move", sent(session, **more))


def outcome(page: Any) -> str:
    assert page.status_code == 200
    found = re.search(r'data-outcome="(\w+)"', page.content.decode())
    assert found
    return found[1]


def hidden(page: Any) -> dict[str, str]:
    """What the form inside the answer would send."""
    fields = re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', page.content.decode())
    return {name: unescape(value) for name, value in fields}


def hours(session: Session) -> str:
    session = Session.objects.get(pk=session.pk)
    tz = session.room.site.tz
    return f"{session.room.name} {session.downbeat.astimezone(tz):%d %H:%M} {session.end.astimezone(tz):%d %H:%M}"


def test_a_session_moves_by_quarter_hours_days_and_rooms_and_stretches(desk: Browser) -> None:
    session = make_session(make_room("Hall"), "09:00", "18:00", downbeat="10:00")
    page = put_down(desk, session, minutes=-15)
    assert outcome(page) == "saved"
    assert "Saved: “Quartet” is now in Hall, Thu 4 March, 09:45 to 17:45." in said(page)
    assert page["HX-Trigger"] == "board-moved"
    put_down(desk, session, days=1, end_minutes=30)
    assert hours(session) == "Hall 05 09:45 05 18:15"
    put_down(desk, session, room=make_room("Loft").pk)
    assert hours(session) == "Loft 05 09:45 05 18:15"
    assert Session.objects.get().load_in == at("2027-03-05 08:45")
    assert Session.objects.get().history.count() == 4


def test_undo_takes_it_back_through_the_same_door_and_can_be_undone(desk: Browser) -> None:
    session = make_session(make_room("Hall"), "10:00", "18:00", crew=[called(make_person(Role.ENGINEER))])
    moved = put_down(desk, session, minutes=60, room=make_room("Loft").pk)
    assert "Undo" in said(moved)
    back = desk.post("/board/move", hidden(moved))
    assert outcome(back) == "saved"
    assert hours(session) == "Hall 04 10:00 04 18:00"
    assert Crew.objects.get().call_at == at("2027-03-04 10:00")
    assert [entry.what for entry in session.history.all()] == ["changed", "changed", "booked"]
    assert outcome(desk.post("/board/move", hidden(back))) == "saved"
    assert hours(session) == "Loft 04 11:00 04 19:00"


def test_an_undo_that_comes_too_late_is_told_and_changes_nothing(desk: Browser) -> None:
    session = make_session(make_room("Hall"), "10:00", "18:00")
    undo = hidden(put_down(desk, session, minutes=60))
    put_down(desk, session, minutes=60)
    page = desk.post("/board/move", undo)
    assert outcome(page) == "stale"
    assert "was changed meanwhile, so it has not been moved" in said(page)
    assert "It stands now in Hall, Thu 4 March, 12:00 to 20:00. You wanted Hall, Thu 4 March, 10:00" in said(
        page
    )
    assert hours(session) == "Hall 04 12:00 04 20:00"


def test_an_undo_into_a_place_that_was_taken_meanwhile_says_by_whom(desk: Browser) -> None:
    hall = make_room("Hall")
    session = make_session(hall, "10:00", "12:00")
    undo = hidden(put_down(desk, session, minutes=240))
    make_session(hall, "11:00", "13:00", title="Brass band")
    page = desk.post("/board/move", undo)
    assert outcome(page) == "refused"
    assert "Hall is taken: “Brass band”, Thu 4 March, 11:00 to 13:00 (session)." in said(page)
    assert hours(session) == "Hall 04 14:00 04 16:00"


def test_what_is_in_the_way_is_said_before_and_when_it_is_put_down(desk: Browser) -> None:
    hall, loft = make_room("Hall"), make_room("Loft")
    session = make_session(hall, "10:00", "12:00")
    make_session(loft, "11:00", "13:00", title="Brass band")
    free = desk.post("/board/move/check", sent(session, minutes=15))
    assert said(free).startswith("Hall, Thu 4 March, 10:15 to 12:15. Nothing is in the way.")
    check = desk.post("/board/move/check", sent(session, room=loft.pk))
    assert "Loft is taken: “Brass band”, Thu 4 March, 11:00 to 13:00 (session)." in said(check)
    page = put_down(desk, session, room=loft.pk)
    assert outcome(page) == "refused"
    assert "Not moved to Loft, Thu 4 March, 10:00 to 12:00. Loft is taken" in said(page)
    form = f"/sessions/{session.pk}/change?room={loft.pk}&amp;load_in=2027-03-04T10%3A00"
    assert form in page.content.decode()
    assert Session.objects.get(pk=session.pk).version == 1
    link = unescape(re.search(r'href="(/sessions/\d+/change[^"]*)"', page.content.decode())[1])  # type: ignore[index]
    filled = desk.get(link).context["form"]
    assert (filled["room"].value(), filled["downbeat"].value()) == (str(loft.pk), "2027-03-04T10:00")


def test_past_holds_it_leads_to_the_form_where_a_reason_can_be_written(desk: Browser) -> None:
    hall = make_room("Hall")
    session = make_session(hall, "10:00", "12:00")
    make_session(hall, "12:00", "14:00", title="Larkspur", status=Session.Status.HELD)
    page = put_down(desk, session, minutes=60)
    assert outcome(page) == "refused"
    assert "The first hold there, “Larkspur” (Hall, Thu 4 March, 12:00 to 14:00), stands until" in said(page)
    assert "write the reason on the form" in said(page)
    assert f"/sessions/{session.pk}/change?" in page.content.decode()
    assert Session.objects.get(title="Larkspur").is_hold
    assert hours(session) == "Hall 04 10:00 04 12:00"


def test_a_hold_that_would_lose_its_place_asks_first(desk: Browser) -> None:
    hold = make_session(make_room("Hall"), "10:00", "12:00", status=Session.Status.HELD)
    page = put_down(desk, hold, minutes=60)
    assert outcome(page) == "asked"
    assert "it loses its place in line" in said(page)
    assert hours(hold) == "Hall 04 10:00 04 12:00"
    assert outcome(desk.post("/board/move", hidden(page) | {"yes": "1"})) == "saved"
    assert hours(hold) == "Hall 04 11:00 04 13:00"


def test_somebody_else_s_change_is_told_and_what_was_wanted_is_not_lost(desk: Browser) -> None:
    session = make_session(make_room("Hall"), "10:00", "12:00")
    seen = sent(session, minutes=30)
    other = make_person(Role.MANAGER, name="Edda")
    whole = Session.objects.with_all().get()
    change(
        other,
        session.pk,
        1,
        as_draft(whole).moved(at("2027-03-04 15:00"), at("2027-03-04 15:00"), at("2027-03-04 17:00")),
    )
    page = desk.post("/board/move", seen)
    assert outcome(page) == "stale"
    assert "Edda: " in said(page)
    assert (
        "It stands now in Hall, Thu 4 March, 15:00 to 17:00. You wanted Hall, Thu 4 March, 10:30 to 12:30."
        in said(page)
    )
    assert "downbeat=2027-03-04T10%3A30" in page.content.decode()
    cancel(other, session.pk, 2, "rain")
    assert "“Quartet” is cancelled, so it has not been moved." in said(desk.post("/board/move", seen))


@pytest.mark.parametrize(
    ("day", "days", "sentence"),  # tzdata 2026, europe: rule EU; 28 March and 31 October 2027
    [
        ("2027-03-27", 1, "There is no 02:30 on Sun 28 March: the clocks go forward over it."),
        ("2027-10-30", 1, "02:30 on Sun 31 October comes twice: the clocks go back."),
    ],
)
def test_a_day_on_which_the_hour_is_missing_or_there_twice_is_told(
    desk: Browser, day: str, days: int, sentence: str
) -> None:
    session = make_session(make_room("Hall"), f"{day} 02:30", f"{day} 06:00")
    assert sentence in said(desk.post("/board/move/check", sent(session, days=days)))
    assert sentence in said(put_down(desk, session, days=days))
    assert Session.objects.get().version == 1


def test_which_of_the_two_hours_is_asked_and_taken(desk: Browser) -> None:
    session = make_session(make_room("Hall"), "2027-10-30 02:30", "2027-10-30 06:00")
    page = put_down(desk, session, days=1)
    assert outcome(page) == "asked"
    assert "the first 02:30 (00:30 UTC)" in said(page)
    saved = desk.post("/board/move", hidden(page) | {"which": "second"})
    assert outcome(saved) == "saved"
    assert Session.objects.get().load_in == datetime(2027, 10, 31, 1, 30, tzinfo=UTC)


def test_a_night_that_is_an_hour_longer_is_said(desk: Browser) -> None:
    session = make_session(make_room("Hall"), "2027-10-29 22:00", "2027-10-30 06:00")
    page = put_down(desk, session, days=1)
    assert "The clocks change then: it is 60 min longer than it was." in said(page)
    assert hours(session) == "Hall 30 22:00 31 06:00"


def test_a_move_that_no_house_can_do_is_told(desk: Browser) -> None:
    hall, loft = make_room("Hall"), make_room("Loft")
    session = make_session(hall, "10:00", "12:00", beside=(loft,))
    machine = make_room("Machine room", bookable=False)
    elsewhere = make_room("Pier Room", make_site("Quay House", "America/New_York"))
    for more, sentence in [
        ({"end_minutes": -120}, "It would end before it starts. Make it longer."),
        ({"end_days": 3}, "one booking holds 72 h at most"),
        ({"room": machine.pk}, "Machine room can't be booked by itself."),
        ({"room": elsewhere.pk}, "Pier Room is at another site."),
        ({"room": loft.pk}, "Loft is taken beside it already."),
    ]:
        page = put_down(desk, session, **more)
        assert outcome(page) == "refused"
        assert sentence in said(page)
    assert Session.objects.get().version == 1


@pytest.mark.parametrize(
    "broken",
    [
        {"session": "99999"},
        {"room": "x"},
        {"minutes": "1e9"},
        {"days": "99999999999"},
        {"load_in": "soon"},
        {"load_in": "9999-12-31T23:59:59Z"},
        {"version": ""},
        {"which": "third"},
    ],
)
def test_what_can_not_be_read_is_said_and_never_an_error(desk: Browser, broken: dict[str, str]) -> None:
    session = make_session(make_room("Hall"), "10:00", "12:00")
    for address in ("/board/move", "/board/move/check"):
        page = desk.post(address, sent(session) | broken)
        assert "That move can't be read any more." in said(page)
        assert page.status_code == 200
    assert Session.objects.get().version == 1


def test_only_managers_move_sessions() -> None:
    session = make_session(make_room("Hall"), "10:00", "12:00")
    for role in set(Role) - {Role.MANAGER}:
        assert put_down(browser_of(make_person(role)), session, minutes=15).status_code == 403
    page = browser_of(make_person(Role.ENGINEER)).get("/board?day=2027-03-04").content.decode()
    assert "data-session" not in page
    assert "board.js" not in page


def test_people_who_have_answered_and_those_whose_rest_it_breaks_are_named(desk: Browser) -> None:
    """Default rest of 11 hours: Directive 2003/88/EC Art. 3."""
    hall, edda = make_room("Hall"), make_person(Role.ENGINEER, name="Edda")
    make_session(hall, "2027-03-03 12:00", "2027-03-03 23:00", title="Late one", crew=[called(edda)])
    session = make_session(hall, "11:00", "15:00", crew=[called(edda)])
    Crew.objects.filter(session=session).update(answer=Crew.Answer.ACCEPTED)
    words = said(desk.post("/board/move/check", sent(session, minutes=-120)))
    assert "Whoever has answered is asked again." in words
    assert "Edda" in words


def test_a_lockout_keeps_its_hours_when_it_moves_over_a_clock_change(desk: Browser) -> None:
    hall = make_room("Hall")
    hours_of_day = (at("2027-03-04 10:00").time(), at("2027-03-04 22:00").time())
    draft = {"day_hours": hours_of_day}
    session = make_session(hall, "2027-03-22 10:00", "2027-03-24 22:00", **draft)
    assert outcome(put_down(desk, session, days=5)) == "saved"
    assert hours(session) == "Hall 27 10:00 29 22:00"
    assert [day.length.total_seconds() / 3600 for day in Session.objects.get().days] == [12, 12, 12]


def test_a_draft_of_the_cast_is_what_the_board_moves(desk: Browser) -> None:
    """Moving keeps all that isn't time or room: crew, minutes, note, list, spare time."""
    hall = make_room("Hall", setup_minutes=90)
    before = make_draft(
        hall, "10:00", "12:00", note="ring twice", instrument_list="2 vln", spare_minutes=30, setup_minutes=45
    )
    session = make_session(
        hall, "10:00", "12:00", note="ring twice", instrument_list="2 vln", spare_minutes=30, setup_minutes=45
    )
    put_down(desk, session, minutes=60, room=make_room("Loft").pk)
    after = as_draft(Session.objects.with_all().get())
    kept = (
        "title",
        "note",
        "instrument_list",
        "spare_minutes",
        "setup_minutes",
        "turnaround_minutes",
        "crew",
    )
    assert [getattr(after, name) for name in kept] == [getattr(before, name) for name in kept]
