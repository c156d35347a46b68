"""The booking form: each mistake is a sentence, and whatever was typed is kept."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client as Browser

from bookings.models import Client, Job, Session
from bookings.sessions.forms import SessionForm
from studio.models import Role
from tests.bookings.cast import (
    browser_of,
    filled_in,
    make_job,
    make_session,
    manager,
    refused,
    said,
)
from tests.house import at, make_person, make_room

pytestmark = pytest.mark.django_db


def test_a_session_is_booked_and_shown(desk: Browser) -> None:
    edda, asa = make_person(Role.ENGINEER, name="Edda"), make_person(Role.ASSISTANT, name="Asa")
    typed = filled_in(
        engineers=[edda.pk],
        assistants=[asa.pk],
        setup_minutes="70",
        instrument_list="2 vln\r\nvla, vc",
        note="ring",
    )
    page = desk.post("/sessions/new", typed, follow=True)
    session = Session.objects.get()
    assert page.redirect_chain == [(f"/sessions/{session.pk}", 302)]
    assert "“Quartet and harmonium” is booked." in said(page)
    assert (session.load_in, session.downbeat, session.end) == (
        at("2027-03-04 09:20"),
        at("2027-03-04 10:00"),
        at("2027-03-04 19:00"),
    )
    assert session.setup_at == at("2027-03-04 08:10")
    assert session.clear_at == at("2027-03-04 20:00")  # the room's own 60 minutes
    assert session.instrument_list == "2 vln\nvla, vc"
    assert {(c.person.name, c.role) for c in session.crew.all()} == {
        ("Edda", "engineer"),
        ("Asa", "assistant"),
    }


def test_client_and_job_can_be_typed_in_place(desk: Browser) -> None:
    desk.post("/sessions/new", filled_in(job="", new_client="  Larkspur ", new_job="Mixes"))
    assert Session.objects.get().job.title == "Mixes"
    assert Session.objects.get().job.client.name == "Larkspur"


def test_a_known_client_typed_otherwise_is_the_same_client(desk: Browser) -> None:
    """Canonical equivalence: e and a combining acute are é (Unicode Standard Annex 15)."""
    known = Client.objects.create(name="Écho Lane")
    desk.post("/sessions/new", filled_in(job="", new_client="e\u0301CHO  lane", new_job="Mixes"))
    assert Job.objects.get(title="Mixes").client == known


def test_when_the_room_is_taken_no_client_and_no_job_are_left_behind(desk: Browser) -> None:
    make_session(make_room("Weaving Hall"), "12:00", "14:00")
    desk.post("/sessions/new", filled_in(job="", new_client="Larkspur", new_job="Mixes"))
    assert not Job.objects.filter(title="Mixes").exists()
    assert not Client.objects.filter(name="Larkspur").exists()


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"title": ""}, "Give the session a title."),
        ({"title": "   "}, "Give the session a title."),
        ({"title": "\u200b\u200d"}, "Give the session a title."),
        ({"title": "x" * 121}, "At most 120 characters fit here; this has 121. Shorten it."),
        (
            {"title": "Choir\r\nBcc: x@example.org"},
            "Character 6 can't be seen and can't be kept here (U+000D",
        ),
        ({"title": "Bell\x07"}, "(U+0007"),
        ({"title": "null\x00"}, "(U+0000"),
        ({"title": "turned \u202eround"}, "(U+202E"),
        ({"note": "form\x0cfeed"}, "(U+000C"),
        ({"room": ""}, "Choose a room."),
        ({"room": "99999"}, "That room isn't one of the house's. Choose one of the list."),
        ({"room": "attic"}, "That room isn't one of the house's."),
        ({"load_in": ""}, "When may the client load in?"),
        ({"load_in": "4 March, ten"}, "“4 March, ten” is not a time. Write it like 2027-03-04T10:00."),
        ({"load_in": "2027-03-04T09:20Z"}, "is not a time. Write it like"),
        ({"load_in": "0001-01-01T00:00"}, "Check the year: 1 is too far away."),
        ({"load_in": "9999-12-31T23:59"}, "Check the year: 9999 is too far away."),
        ({"load_in": "2027-03-04T10:01"}, "The downbeat can't come before the load-in (Thu 4 March, 10:01)."),
        ({"end": "2027-03-04T09:59"}, "The session can't end before its downbeat (Thu 4 March, 10:00)."),
        ({"end": "2027-03-04T10:00"}, "The session would have no length: it has to end after its downbeat."),
        ({"end": "2027-03-21T01:20"}, "That is 400 h long. One booking holds at most 72 h"),
        ({"setup_minutes": "-5"}, "Minutes can't be fewer than 0."),
        ({"setup_minutes": "an hour"}, "Write the minutes as a whole number, like 45."),
        ({"turnaround_minutes": "1441"}, "At most 1440 minutes fit here (a day)."),
        ({"turnaround_minutes": "9" * 400}, "At most 1440 minutes fit here (a day)."),
        ({"job": ""}, "Choose the session's job, or type a client and a new job below."),
        ({"job": "99999"}, "That job isn't open. Choose one of the list or type a new one."),
        ({"job": "", "new_job": "Mixes"}, "Whose job is it? Type the client's name."),
        ({"job": "", "new_client": "Larkspur"}, "Give the new job a title."),
        ({"new_client": "Larkspur"}, "Either choose a job or type a new one: empty one of the two."),
        ({"engineers": ["99999"]}, "One of these people isn't in the house (any more)."),
        ({"engineers": ["nobody"]}, "One of these people isn't in the house (any more)."),
        ({"form_key": "not one"}, "This form is damaged (form_key). Load the page again."),
    ],
)
def test_what_makes_no_sense_gets_a_sentence_and_books_nothing(
    desk: Browser, changed: dict[str, Any], sentence: str
) -> None:
    refused(desk, sentence, **changed)


def test_a_closed_job_takes_no_new_session(desk: Browser) -> None:
    closed = make_job("Larkspur", "Old", closed_at=at("2027-01-01 00:00"))
    refused(desk, "That job isn't open.", job=closed.pk)


def test_a_person_twice_is_a_sentence(desk: Browser) -> None:
    edda = make_person(Role.ENGINEER, Role.ASSISTANT, name="Edda")
    sentence = "Edda is down as engineer and as assistant. Take one of the two out."
    refused(desk, sentence, engineers=[edda.pk], assistants=[edda.pk])


def test_the_same_person_ticked_twice_as_engineer_is_called_once(desk: Browser) -> None:
    edda = make_person(Role.ENGINEER)
    desk.post("/sessions/new", filled_in(engineers=[edda.pk, edda.pk]))
    assert Session.objects.get().crew.count() == 1


@pytest.mark.parametrize("title", ["🎸 Rückkopplung 👩‍🎤", "שיר חדש", "تسجيل", '<b>bold</b> & "quoted"'])
def test_emoji_right_to_left_letters_and_markup_are_kept_and_shown_as_they_are(
    desk: Browser, title: str
) -> None:
    page = desk.post("/sessions/new", filled_in(title=title), follow=True)
    assert Session.objects.get().title == title
    assert "<bdi>" in page.content.decode()
    assert "<b>bold</b>" not in page.content.decode()
    assert title in said(page) or title.startswith("<b>")


def test_a_conflict_at_the_last_moment_says_the_same_and_keeps_what_was_typed(
    desk: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Field case F40: between the answer and the press somebody else has booked."""
    room = make_room("Weaving Hall")
    typed = filled_in(room, note="keep me")
    asked = desk.post("/sessions/check", typed)
    assert "Nothing is in the way." in said(asked)
    make_session(room, "12:00", "14:00", title="Choir")
    page = desk.post("/sessions/new", typed)
    sentence = "Weaving Hall is taken: “Choir”, Thu 4 March, 12:00 to 14:00 (session)."
    assert "Not saved" in said(page)
    assert sentence in said(page)
    assert page.context["form"]["note"].value() == "keep me"
    assert sentence in said(desk.post("/sessions/check", typed))


def test_the_same_form_sent_twice_books_once_and_shows_the_first(desk: Browser) -> None:
    """Field case F62."""
    typed = filled_in(job="", new_client="Larkspur", new_job="Mixes")
    first, second = desk.post("/sessions/new", typed), desk.post("/sessions/new", typed)
    assert first.url == second.url
    assert (Session.objects.count(), Job.objects.filter(title="Mixes").count()) == (1, 1)


def test_a_cancelled_session_s_form_leads_to_its_page(desk: Browser) -> None:
    session = make_session()
    desk.post(f"/sessions/{session.pk}/cancel", {"because": "rain", "by_whom": "client", "version": 1})
    page = desk.get(f"/sessions/{session.pk}/change", follow=True)
    assert "This session is cancelled. Book it anew" in said(page)


def test_a_link_from_the_board_fills_in_room_day_and_job(desk: Browser) -> None:
    room, job = make_room(), make_job()
    form = desk.get(f"/sessions/new?room={room.pk}&day=2027-03-04&job={job.pk}").context["form"]
    assert (str(form["room"].value()), str(form["job"].value())) == (str(room.pk), str(job.pk))
    assert form["load_in"].value() == "2027-03-04T09:00"


@pytest.mark.parametrize(
    "query", ["room=attic&job=x", "day=someday", "day=2027-02-30", "day=9999-12-31", "room="]
)
def test_a_link_that_makes_no_sense_still_opens_the_form(desk: Browser, query: str) -> None:
    assert desk.get(f"/sessions/new?{query}").status_code == 200


def test_the_page_is_never_kept_so_that_back_shows_the_present_state(desk: Browser) -> None:
    """Field case F64."""
    page = desk.get("/sessions/new")
    assert "no-store" in page["Cache-Control"]
    assert "HX-Request" in page["Vary"]


def test_a_form_from_before_signing_in_again_is_kept_and_can_be_sent_once_more() -> None:
    """Field case F65: nothing is stored without a valid token, and nothing that was typed is lost."""
    strict = browser_of(manager(), enforce_csrf_checks=True)
    page = strict.post("/sessions/new", filled_in(note="long text"))
    assert page.status_code == 403
    assert "Nothing was saved yet" in said(page)
    assert 'value="long text"' in page.content.decode()
    assert not Session.objects.exists()


@pytest.mark.parametrize("role", [Role.ENGINEER, Role.ASSISTANT, Role.TECH])
def test_who_may_not_book_is_told_so(role: Role) -> None:
    session, browser = make_session(), browser_of(make_person(role))
    for path in ("/sessions/new", f"/sessions/{session.pk}/change", f"/sessions/{session.pk}/cancel"):
        page = browser.get(path)
        assert page.status_code == 403
        assert "Only a manager can book, move and cancel sessions." in said(page)
        assert browser.post(path, {}).status_code == 403
    assert browser.post("/sessions/check", {}).status_code == 403


def test_nobody_books_without_signing_in() -> None:
    page = Browser().get("/sessions/new")
    assert (page.status_code, page.url) == (302, "/sign-in?next=/sessions/new")


@pytest.mark.django_db
def test_a_person_by_a_number_that_no_database_holds_is_refused_with_a_sentence() -> None:
    form = SessionForm({"engineers": ["9" * 25], "assistants": ["x"]})
    assert not form.is_valid()
    for name in ("engineers", "assistants"):
        assert "isn't in the house" in form.errors[name][0]
