"""What the booking form answers while it is filled in."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext

from bookings.models import Session
from studio.models import Role
from tests.bookings.cast import (
    called,
    filled_in,
    make_session,
    said,
)
from tests.house import make_person, make_room

pytestmark = pytest.mark.django_db


def test_the_answer_says_who_is_free_and_when_else(desk: Browser) -> None:
    room = make_room("Weaving Hall", setup_minutes=0, turnaround_minutes=0)
    edda, _ = make_person(Role.ENGINEER, name="Edda"), make_person(Role.ENGINEER, name="Otis")
    make_session(room, "12:00", "14:00", title="Choir", crew=[called(edda)])
    words = said(desk.post("/sessions/check", filled_in(room)))
    assert "In the way: Weaving Hall is taken: “Choir”" in words
    assert "Weaving Hall is next free for as long with load-in Thu 4 March, 14:00." in words
    assert "free: Otis" in words
    assert "not free: Edda: called, “Choir”, Thu 4 March, 12:00 to 14:00" in words


def test_the_answer_for_a_change_leaves_the_session_itself_out(desk: Browser) -> None:
    room = make_room()
    session = make_session(room, "10:00", "18:00")
    words = said(desk.post(f"/sessions/{session.pk}/check", filled_in(room)))
    assert "Nothing is in the way." in words


def test_the_answer_does_not_nag_about_what_is_not_typed_yet(desk: Browser) -> None:
    words = said(desk.post("/sessions/check", {"load_in": "2027-03-04T10:00", "end": "rubbish"}))
    assert "Choose a room and the three times" in words
    assert "“rubbish” is not a time." in words
    assert "Give the session a title" not in words


def test_the_answer_saves_nothing(desk: Browser) -> None:
    desk.post("/sessions/check", filled_in())
    assert not Session.objects.exists()


def test_the_answer_asks_equally_often_however_much_is_in_the_way(desk: Browser) -> None:
    booth = make_room("Booth")
    hall = make_room("Weaving Hall", parts=[booth], setup_minutes=0, turnaround_minutes=0)
    counts = []
    for more in (2, 6):
        for number in range(more):
            other = make_room(f"Room {more}-{number}", parts=[booth])
            edda = make_person(Role.ENGINEER)
            start = f"{8 + number + 2 * (more > 2):02}:00"
            make_session(other, start, f"{start[:2]}:30", crew=[called(edda)])
        with CaptureQueriesContext(connection) as asked:
            page = desk.post("/sessions/check", filled_in(hall))
        assert "Room 2-1 share Booth" in said(page)
        counts.append(len(asked))
    assert counts[0] == counts[1]
