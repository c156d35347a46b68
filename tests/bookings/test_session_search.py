"""Finding a session by whatever one remembers of it."""

from __future__ import annotations

import unicodedata

import pytest
import time_machine
from django.test import Client

from studio.models import Role
from tests.bookings.cast import browser_of, called, make_job, make_session, manager, said
from tests.house import at, make_person, make_room

pytestmark = pytest.mark.django_db
EVE = at("2027-03-03 15:00")


def found(desk: Client, **asked: str) -> str:
    return said(desk.get("/sessions", asked)).partition("How it stands")[2]


@pytest.mark.parametrize("form", ["NFC", "NFD"])
@pytest.mark.parametrize(
    ("stored", "typed"),
    [
        ("Señor Núñez", ["nunez", "NÚÑEZ", "senor nun"]),
        ("Écho Mic", ["écho", "echo", "ÉCHO mic"]),
        ("Große straße", ["STRASSE", "straße", "grosse"]),
        ("ИВАН", ["иван", "Иван"]),
        ("100 % Wolle_2", ["100 % wolle", "wolle_2"]),
    ],
)
def test_f69_case_accents_and_form_of_letters_stand_in_nobodys_way(
    form: str, stored: str, typed: list[str]
) -> None:
    """Unicode Standard Annex 15: a name may be stored composed or decomposed."""
    name = unicodedata.normalize(form, stored)
    theirs, other = make_job(name, "Record"), make_job("Other", "Other record")
    anna = make_person(Role.ENGINEER, name=name)
    for kind, given in {
        "client": {"job_id": theirs.pk},
        "person": {"job_id": other.pk, "crew": [called(anna)]},
        "note": {"job_id": other.pk, "note": f"for {name}!"},
        "nothing": {"job_id": other.pk, "note": "100 of 1000 Wolle 2"},
    }.items():
        make_session(make_room(f"Room {kind}"), title=f"By {kind}", **given)
    make_session(make_room("Room title"), title=f"By title: {name}", job_id=other.pk)
    with time_machine.travel(EVE, tick=False):
        desk = browser_of(manager())
        for words in typed:
            page = found(desk, q=words)
            assert [kind for kind in ("client", "person", "note", "title") if f"By {kind}" not in page] == []
            assert "By nothing" not in page


def test_what_is_over_is_offered_where_nothing_ahead_fits() -> None:
    make_session(make_room(), "2027-02-01 10:00", "2027-02-01 12:00", title="Old choir")
    with time_machine.travel(EVE, tick=False):
        desk = browser_of(manager())
        page = desk.get("/sessions", {"q": "choir", "when": "ahead"})
        assert "None is ahead. Show those that are over" in said(page)
        address = page.context["over"]
        assert "Old choir" in said(desk.get(f"/sessions{address}"))
        assert "No session fits." in said(desk.get("/sessions", {"q": "flute", "when": "ahead"}))


@pytest.mark.parametrize("address", ["/sessions", "/changes"])
@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31", "1999-12-31"])
def test_a_day_that_no_clock_can_place_gets_a_sentence(address: str, day: str) -> None:
    make_session()
    page = browser_of(manager()).get(address, {"day": day})
    assert page.status_code == 200
    assert f"Check the year: {int(day[:4])} is too far away." in said(page)
