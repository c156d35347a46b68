"""Setup time by the plan: what its tasks take, shared by the assistants, offered and explained on the form."""

from __future__ import annotations

import pytest
from django.db.models import Sum
from hypothesis import given
from hypothesis import strategies as st

from bookings.lists import asked_by
from bookings.models import Session
from bookings.setups import SetupWork, minutes_for, work_of
from studio.models import Role
from tasks.models import Task
from tests.bookings.cast import browser_of, called, make_session, manager, page_fields, said
from tests.house import make_di, make_mic, make_person, make_preamp, make_room, make_stock


@given(st.integers(1, 100), st.integers(0, 2000), st.integers(0, 6))
def test_the_work_is_shared_and_rounded_up_to_a_quarter(tasks: int, minutes: int, assistants: int) -> None:
    found = minutes_for(SetupWork(tasks, minutes), assistants)
    assert found % 15 == 0
    assert found * max(assistants, 1) >= minutes
    assert (found - 15) * max(assistants, 1) < minutes or found == 0


@pytest.mark.django_db
def test_without_a_plan_the_room_s_default_stands_and_says_so() -> None:
    room = make_room("Weaving Hall", setup_minutes=60)
    session = make_session(room, setup_minutes=None)
    session.plan.delete()  # type: ignore[attr-defined]
    assert work_of(session) is None
    desk = browser_of(manager())
    words = said(desk.post(f"/sessions/{session.pk}/check", page_fields(desk, session)))
    assert "Setup 1 h before load-in: the usual of Weaving Hall." in words


@pytest.mark.django_db
def test_the_plan_s_minutes_are_explained_and_one_press_takes_them() -> None:
    room = make_room("Weaving Hall", setup_minutes=60)
    make_preamp("Oak", home_room=room)
    make_stock("tall boom", 20)
    make_stock("short boom", 20)
    for _ in range(4):
        make_mic(transducer="small condenser", phantom="needs")
        make_mic(transducer="large condenser", phantom="needs")
        make_di()
    crew = [called(make_person(Role.ASSISTANT), Role.ASSISTANT) for _ in range(2)]
    session = make_session(room, setup_minutes=None, instrument_list="violin, viola, cello, voice", crew=crew)
    minutes = session.tasks.filter(stage=Task.Stage.SETUP).aggregate(sum=Sum("minutes"))["sum"]  # type: ignore[attr-defined]
    work = work_of(session)
    assert work
    assert work.minutes == minutes > 0
    planned = minutes_for(work, 2)
    assert planned != 60
    desk = browser_of(manager())
    typed = page_fields(desk, session)
    page = desk.post(f"/sessions/{session.pk}/check", typed)
    assert f"By the plan {work.tasks} setup tasks of" in said(page)
    assert "shared by 2 assistants" in said(page)
    press = page.context["answer"].setup_press
    assert press.words == f"Take {planned} minutes of setup"
    filled = desk.post(f"/sessions/{session.pk}/fill-in", typed | {"fill": press.value})
    form = filled.context["form"]
    assert form["setup_minutes"].value() == str(planned)
    assert (
        desk.post(f"/sessions/{session.pk}/change", {n: form.data.getlist(n) for n in form.data}).status_code
        == 302
    )
    session = Session.objects.get()
    assert (session.load_in - session.setup_at).total_seconds() == planned * 60


@pytest.mark.django_db
def test_a_list_asks_for_places_lines_and_instruments() -> None:
    asked = asked_by("2 violins, viola, cello\ngrand piano\nkick, snare, overheads\nclick track")
    assert asked.players == 6  # four strings, a pianist, one drummer; the click is nobody
    assert "grand piano" in asked.instruments
    assert asked.inputs >= 9
    assert asked_by("  ") == asked_by("").__class__()
