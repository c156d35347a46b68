"""A session opened again: nothing changes by itself, and two people who change it meet."""

from __future__ import annotations

from dataclasses import replace
from datetime import time

import pytest
import time_machine
from django.test import Client as Browser

from bookings.booking import Called, change
from bookings.drafts import as_draft
from bookings.models import Session, SessionKind
from studio.models import Person, Role
from tests.bookings.cast import (
    browser_of,
    called,
    make_draft,
    make_session,
    manager,
    page_fields,
    said,
    sent_back,
)
from tests.house import at, make_person, make_room, make_unit

pytestmark = pytest.mark.django_db


def test_saving_an_untouched_form_changes_nothing(desk: Browser) -> None:
    """Field case F58: the same instants after saving unchanged, whatever seconds were stored."""
    edda, asa = make_person(Role.ENGINEER), make_person(Role.ASSISTANT)
    session = make_session(
        make_room(), "10:00", "18:00", crew=[called(edda), called(asa, Role.ASSISTANT)], setup_minutes=35,
        instrument_list="  2 vln\n\nvla ", note="ring",
    )  # fmt: skip
    before = Session.objects.values().get()
    page = sent_back(desk, session)
    assert page.status_code == 302
    after = Session.objects.values().get()
    changed = {name for name in before if before[name] != after[name]}
    assert changed <= {"version", "changed_at"}
    assert session.history.first().words == "Saved without a change."  # type: ignore[union-attr]
    assert session.crew.count() == 2


def test_the_form_shows_times_as_a_datetime_local_control_wants_them(desk: Browser) -> None:
    """Field case F58; HTML standard, "valid local date and time string"."""
    session = make_session(make_room(), "2026-06-01 10:00:13", "2026-06-01 18:00")
    html = desk.get(f"/sessions/{session.pk}/change").content.decode()
    assert 'value="2026-06-01T10:00"' in html
    assert "Europe/Berlin" in html


def test_someone_called_at_an_hour_of_their_own_moves_with_the_session(desk: Browser) -> None:
    edda, mara = make_person(Role.ENGINEER), manager()
    early = Called(edda.pk, Role.ENGINEER, at("2027-03-04 08:00"))
    session = make_session(make_room(), "10:00", "18:00", crew=[early, Called(mara.pk, Role.MANAGER)])
    sent_back(desk, session, load_in="2027-03-04T11:00", downbeat="2027-03-04T11:00")
    calls = {c.person_id: (c.role, c.call_at) for c in session.crew.all()}
    assert calls == {
        edda.pk: ("engineer", at("2027-03-04 09:00")),
        mara.pk: ("manager", at("2027-03-04 11:00")),
    }


def test_a_person_who_has_left_stays_on_the_session_they_were_on(desk: Browser) -> None:
    edda = make_person(Role.ENGINEER)
    session = make_session(make_room(), crew=[called(edda)])
    Person.objects.filter(pk=edda.pk).update(is_active=False)
    assert sent_back(desk, session, note="x").status_code == 302
    assert session.crew.count() == 1


def test_a_change_sent_twice_is_made_once_and_shows_the_first(desk: Browser) -> None:
    session = make_session(make_room(), "10:00", "18:00")
    typed = page_fields(desk, session) | {"end": "2027-03-04T19:00"}
    for _ in range(2):
        page = desk.post(f"/sessions/{session.pk}/change", typed)
        assert page.status_code == 302
    session.refresh_from_db()
    assert session.version == 2


def test_the_second_of_two_is_told_what_changed_and_nothing_is_lost(desk: Browser) -> None:
    """Field case F44: moved in the first tab, only the note changed in the second."""
    session = make_session(make_room("Weaving Hall"), "10:00", "18:00")
    second_tab = page_fields(desk, session) | {"note": "bring ribbon"}
    with time_machine.travel(at("2027-03-01 09:05"), tick=False):
        sent_back(browser_of(make_person(Role.MANAGER, name="Noor")), session, end="2027-03-04T20:00")
    page = desk.post(f"/sessions/{session.pk}/change", second_tab)
    words = said(page)
    assert "Not saved yet: this session was changed while you were typing." in words
    assert "Noor, Mon 1 March, 09:05: End: Thu 4 March, 18:00, now Thu 4 March, 20:00." in words
    form = page.context["form"]
    assert (form["note"].value(), form["end"].value()) == ("bring ribbon", "2027-03-04T20:00")
    session.refresh_from_db()
    assert session.note == ""
    again = {name: form.data.getlist(name) for name in form.data}
    assert desk.post(f"/sessions/{session.pk}/change", again).status_code == 302
    session.refresh_from_db()
    assert (session.note, session.end) == ("bring ribbon", at("2027-03-04 20:00"))


def test_when_both_change_one_field_both_versions_are_shown(desk: Browser) -> None:
    session = make_session(make_room(), "10:00", "18:00")
    second_tab = page_fields(desk, session) | {"end": "2027-03-04T19:00"}
    change(manager(), session.pk, 1, make_draft(session.room, "10:00", "20:00"))
    page = desk.post(f"/sessions/{session.pk}/change", second_tab)
    assert "End: it stands at “ 2027-03-04 20:00 ”, you typed “ 2027-03-04 19:00 ”" in said(page)
    assert page.context["form"]["end"].value() == "2027-03-04T19:00"


def test_a_change_to_what_was_cancelled_meanwhile_keeps_the_typing_for_a_new_booking(desk: Browser) -> None:
    session = make_session(make_room(), "10:00", "18:00")
    typed = page_fields(desk, session) | {"note": "still on?"}
    desk.post(
        f"/sessions/{session.pk}/cancel", {"because": "rain", "by_whom": "client", "version": session.version}
    )
    page = desk.post(f"/sessions/{session.pk}/change", typed)
    assert "was cancelled in the meantime ( rain )" in said(page)
    form = page.context["form"]
    assert form["note"].value() == "still on?"
    anew = {name: form.data.getlist(name) for name in form.data}
    assert desk.post("/sessions/new", anew).status_code == 302
    assert [s.note for s in Session.objects.standing()] == ["still on?"]


def test_a_change_on_the_form_keeps_what_the_form_knows_nothing_of(desk: Browser) -> None:
    """Series, wanted gear, rooms beside, spare time, hours of a lockout's days, who is only wanted."""
    hall, edda = make_room(), make_person(Role.ENGINEER, name="Edda")
    session = make_session(
        hall,
        "10:00",
        "2027-03-06 18:00",
        beside=(make_room("Loom Room"),),
        spare_minutes=30,
        turnaround_minutes=45,
        day_hours=(time(10), time(18)),
        wanted_units=(make_unit("COMP-1").pk,),
        crew=[Called(edda.pk, Role.ENGINEER, assigned=False)],
        kind=SessionKind.objects.get(site=hall.site, name="mix"),
    )
    before = as_draft(Session.objects.with_all().get(pk=session.pk))
    assert sent_back(desk, session, note="other").status_code == 302
    assert as_draft(Session.objects.with_all().get(pk=session.pk)) == replace(before, note="other")
