"""The nearest alternatives: what each costs, which are found, and a press that fills the form."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from bookings.alternatives import WEIGHTS, Differences, Option, nearest
from bookings.booking import Called, book, what_is_in_the_way
from bookings.drafts import Draft
from bookings.models import Session, SessionKind
from bookings.sessions.nearest import Alternative, alternatives
from studio.models import Claim, GearModel, Role, Room
from tests.bookings.cast import called, filled_in, make_draft, make_session, manager, said
from tests.house import at, make_model, make_person, make_room, make_site, make_unit, span, take_gear

differences = st.builds(
    Differences,
    hours=st.floats(-8, 8),
    night=st.floats(0, 7),
    days=st.integers(-14, 14),
    other_room=st.booleans(),
    other_site=st.booleans(),
    lost_people=st.integers(0, 4),
    lost_gear=st.integers(0, 4),
    holds=st.integers(0, 3),
)


@given(differences)
def test_any_difference_costs_something_and_one_more_costs_more(found: Differences) -> None:
    assert found.cost >= 0
    assert (found.cost == 0) == (found == Differences())
    assert replace(found, lost_people=found.lost_people + 1).cost > found.cost
    assert replace(found, hours=-found.hours, days=-found.days).cost == found.cost


@given(st.lists(differences, max_size=20), st.integers(1, 8))
def test_the_nearest_come_first_and_none_left_out_is_cheaper(found: list[Differences], most: int) -> None:
    options = [Option(n, each, (n,)) for n, each in enumerate(found)]
    kept = nearest(options, most)
    costs = [option.differences.cost for option in kept]
    assert costs == sorted(costs)
    left_out = [option for option in options if option not in kept]
    assert all(option.differences.cost >= costs[-1] - 1e-6 for option in left_out)


def test_the_order_that_the_weights_promise() -> None:
    """The weights are the house's first guess (common practice, no single source)."""
    later, room, tomorrow, person, site = (
        Differences(hours=4),
        Differences(other_room=True),
        Differences(days=1),
        Differences(lost_people=1),
        Differences(other_room=True, other_site=True),
    )
    costs = [each.cost for each in (later, room, tomorrow, person, site)]
    assert costs == sorted(costs) == [4, 5, 7, 8, 17]
    assert "another room 5" in WEIGHTS


def found_for(draft: Draft, session: Session | None = None) -> list[Alternative]:
    with time_machine.travel(at("2027-03-01 09:00"), tick=False):
        return list(alternatives(draft, session, timezone.now()))


def words(found: list[Alternative]) -> list[str]:
    return [each.words for each in found]


@pytest.fixture
def hall(db: None) -> Room:
    return make_room("Weaving Hall", setup_minutes=0, turnaround_minutes=0)


def test_every_alternative_can_really_be_booked(hall: Room) -> None:
    edda = make_person(Role.ENGINEER, name="Edda")
    make_session(hall, "12:00", "20:00", title="Choir", crew=[called(edda)])
    make_session(hall, "2027-03-05 08:00", "2027-03-05 11:00", title="Voice")
    make_room("Loom Room", setup_minutes=30, turnaround_minutes=30)
    wish = make_draft(hall, "10:00", "14:00", crew=[called(edda)])
    found = found_for(wish)
    assert len(found) == 5
    assert all(what_is_in_the_way(each.draft) == [] for each in found)
    assert [each.cost for each in found] == sorted(each.cost for each in found)


def test_the_room_a_little_earlier_comes_before_the_day_after(hall: Room) -> None:
    make_session(hall, "12:00", "20:00", title="Choir")
    found = found_for(make_draft(hall, "10:00", "14:00", "10:30"))
    assert words(found)[:2] == [
        "Weaving Hall, Thu 4 March, 08:00 to 12:00, downbeat 08:30",
        "Weaving Hall, Wed 3 March, 10:00 to 14:00, downbeat 10:30",
    ]
    assert found[0].why == "2 h 00 min earlier"
    assert found[1].why == "1 day earlier, at the same hour"


def test_the_small_hours_are_dearer_than_the_day_after_unless_they_were_asked_for(hall: Room) -> None:
    make_session(hall, "08:00", "23:00")
    found = found_for(make_draft(hall, "10:00", "14:00"))
    assert [each.draft.load_in for each in found[:2]] == [at("2027-03-03 10:00"), at("2027-03-05 10:00")]
    assert all(each.draft.load_in.astimezone(hall.site.tz).hour >= 7 for each in found)
    make_session(hall, "2027-03-06 00:00", "2027-03-06 03:00")
    asked_for = found_for(make_draft(hall, "2027-03-06 00:00", "2027-03-06 04:00"))
    assert (asked_for[0].draft.load_in, asked_for[0].cost) == (at("2027-03-06 03:00"), 3)


def test_setup_and_turnaround_are_inside_what_is_offered(hall: Room) -> None:
    make_session(hall, "12:00", "20:00", turnaround_minutes=30)
    wish = make_draft(hall, "14:00", "16:00", setup_minutes=60, turnaround_minutes=15)
    today = [each.draft for each in found_for(wish) if each.draft.load_in.date() == wish.load_in.date()]
    assert [draft.load_in for draft in today] == [at("2027-03-04 09:45"), at("2027-03-04 21:30")]


def test_nothing_in_the_past_is_offered(hall: Room) -> None:
    make_session(hall, "2027-03-01 10:00", "2027-03-01 20:00")
    found = found_for(make_draft(hall, "2027-03-01 12:00", "2027-03-01 14:00"))
    assert found
    assert all(each.draft.setup_at >= at("2027-03-01 09:00") for each in found)


def test_the_same_hour_stays_the_same_over_a_clock_change(hall: Room) -> None:
    """Europe/Berlin springs forward on 28 March 2027 (IANA tz database, 2026 edition)."""
    make_session(hall, "2027-03-27 09:00", "2027-03-27 23:00")
    found = found_for(make_draft(hall, "2027-03-27 10:00", "2027-03-27 22:00"))
    assert "Weaving Hall, Sun 28 March, 10:00 to 22:00" in words(found)


def test_a_lockout_moves_by_whole_days(hall: Room) -> None:
    make_session(hall, "2027-03-04 12:00", "2027-03-04 15:00")
    wish = make_draft(hall, "2027-03-03 10:00", "2027-03-05 18:00", day_hours=(time(10), time(18)))
    found = found_for(wish)
    assert found
    assert all((each.draft.load_in - wish.load_in) % timedelta(days=1) == timedelta() for each in found)


def test_who_can_not_come_then_is_left_out_and_named(hall: Room) -> None:
    edda, otis = make_person(Role.ENGINEER, name="Edda"), make_person(Role.ASSISTANT, name="Otis")
    make_session(make_room("Kiln"), "09:00", "18:00", title="Drums", crew=[called(edda)])
    wanted = Called(otis.pk, Role.ASSISTANT, assigned=False)
    found = found_for(make_draft(hall, "10:00", "14:00", crew=[called(edda), wanted]))
    without = next(each for each in found if "without Edda" in each.why)
    assert without.draft.load_in == at("2027-03-04 10:00")
    assert "without Edda (called, “Drums”, Thu 4 March, 09:00 to 18:00)" in without.why
    assert [c.person_id for c in without.draft.crew] == [otis.pk]
    with_edda = [each for each in found if len(each.draft.crew) == 2]
    assert with_edda
    assert with_edda[0].cost < without.cost


def test_another_room_says_why_it_fits(hall: Room) -> None:
    make_session(hall, "10:00", "14:00")
    make_room("Loom Room", people=3, lines=8, recorder_inputs=8)
    make_room("Dye Room", people=12, lines=24, recorder_inputs=16)
    make_room("Attic", people=12, lines=2, recorder_inputs=16)
    make_room("Rack Room", people=12, bookable=False)
    edda = make_person(Role.ENGINEER)
    wish = make_draft(hall, "10:00", "14:00", instrument_list="2 violins, viola, cello", crew=[called(edda)])
    elsewhere = [each for each in found_for(wish) if each.draft.room != hall]
    assert words(elsewhere) == ["Dye Room, Thu 4 March, 10:00 to 14:00"]
    assert elsewhere[0].why == "the same time; room for 12; 24 lines and 16 recorder inputs for 4"


def test_a_room_that_is_taken_then_is_offered_at_the_nearest_hour_of_that_day(hall: Room) -> None:
    loom = make_room("Loom Room", setup_minutes=0, turnaround_minutes=0)
    make_session(hall, "08:00", "20:00")
    make_session(loom, "00:00", "12:30")
    make_session(loom, "2027-03-05 10:00", "2027-03-05 12:00")
    wish = make_draft(hall, "10:00", "14:00")
    elsewhere = [each for each in found_for(wish) if each.draft.room == loom]
    assert [each.draft.load_in for each in elsewhere] == [at("2027-03-04 12:30")]
    assert (elsewhere[0].why, elsewhere[0].cost) == ("2 h 30 min later", 7.5)
    make_session(loom, "12:30", "23:30")
    assert not [each for each in found_for(wish) if each.draft.room == loom]


def test_gear_that_another_session_has_then_is_left_out_and_named(hall: Room, desk: Browser) -> None:
    unit, other = make_unit("Old Ribbon"), make_unit("New Ribbon")
    make_session(make_room("Kiln"), "09:00", "18:00", title="Drums", wanted_units=(unit.pk,))
    wish = make_draft(hall, "10:00", "14:00", wanted_units=(unit.pk, other.pk))
    found = found_for(wish)
    assert all(what_is_in_the_way(each.draft) == [] for each in found)
    without = next(each for each in found if each.draft.load_in == wish.load_in)
    assert "without Old Ribbon (in use, “Drums”, Thu 4 March" in without.why
    assert without.draft.wanted_units == (other.pk,)
    assert any(unit.pk in each.draft.wanted_units for each in found)
    typed = filled_in(hall, wanted_gear="old ribbon\nNew Ribbon")
    presses = desk.post("/sessions/check", typed).context["answer"].alternatives
    press = next(each for each in presses if "without Old Ribbon" in each.why)
    form = desk.post("/sessions/fill-in", typed | {"fill": press.value}).context["form"]
    assert form["wanted_gear"].value() == "New Ribbon"


def test_a_room_with_the_grand_piano_is_offered_when_the_list_names_one(hall: Room) -> None:
    loom, dye = make_room("Loom Room", order=1), make_room("Dye Room", order=2)
    make_session(hall, "10:00", "14:00")
    grand = make_model(GearModel.Kind.INSTRUMENT, "concert grand")
    make_unit("GP-1", grand, home_room=dye)
    wish = make_draft(hall, "10:00", "14:00", instrument_list="grand piano, voice")
    rooms = [each for each in found_for(wish) if each.draft.room != hall]
    assert [each.draft.room for each in rooms] == [dye]
    assert "a grand piano lives there (GP-1: works)" in rooms[0].why
    nothing_named = replace(wish, instrument_list="voice")
    assert {each.draft.room for each in found_for(nothing_named)} >= {loom, dye}


def test_a_piano_that_somebody_has_then_is_no_reason(hall: Room) -> None:
    dye = make_room("Dye Room")
    make_session(hall, "10:00", "14:00")
    unit = make_unit("GP-1", make_model(GearModel.Kind.INSTRUMENT, "concert grand"), home_room=dye)
    take_gear(unit, span("2027-03-04 09:00", "2027-03-04 12:00"))
    wish = make_draft(hall, "10:00", "14:00", instrument_list="grand piano")
    assert {each.draft.room for each in found_for(wish)} == {hall}


def test_another_site_comes_last_and_needs_the_kind_on_its_list(hall: Room) -> None:
    make_session(hall, "10:00", "14:00")
    quay = make_site("Quay House", "Europe/Lisbon")
    make_room("Pier Room", quay)
    kind = SessionKind.objects.get(site=hall.site, name="tracking")
    wish = make_draft(hall, "10:00", "14:00", kind=kind)
    pier = next(option for option in found_for(wish) if option.words.startswith("Pier Room"))
    assert pier.words == "Pier Room, Thu 4 March, 09:00 to 13:00"  # the same instant on Lisbon's clock
    assert pier.draft.kind == SessionKind.objects.get(site=quay, name="tracking")
    assert pier.cost == 17
    SessionKind.objects.filter(site=quay).update(offered=False)
    assert not [each for each in found_for(wish) if each.words.startswith("Pier Room")]


def test_a_hold_that_stands_there_makes_it_dearer_and_is_named(hall: Room) -> None:
    make_session(hall, "10:00", "14:00", title="Choir")
    loom = make_room("Loom Room")
    with time_machine.travel(at("2027-03-01 08:00"), tick=False):
        make_session(loom, "11:00", "12:00", title="Larkspur", status=Session.Status.HELD)
    found = [each for each in found_for(make_draft(hall, "10:00", "14:00")) if each.draft.room == loom]
    assert "a hold stands there: “Larkspur”" in found[0].why
    assert found[0].cost == 11


def test_the_number_of_questions_stays_the_same_for_many_rooms_and_years(
    hall: Room,
) -> None:
    make_session(hall, "10:00", "14:00")
    wish = make_draft(hall, "10:00", "14:00", instrument_list="2 violins")
    counts = []
    for more in (1, 12):
        for number in range(more):
            other = make_room(f"Room {more}-{number}")
            make_session(other, "2027-03-05 10:00", "2027-03-05 12:00")
        with CaptureQueriesContext(connection) as asked:
            found_for(wish)
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_press_fills_the_form_keeps_the_rest_and_saves_nothing(hall: Room, desk: Browser) -> None:
    edda = make_person(Role.ENGINEER, name="Edda")
    make_session(hall, "08:00", "20:00", title="Choir")
    make_session(make_room("Kiln"), "08:00", "20:00", title="Drums", crew=[called(edda)])
    loom = make_room("Loom Room")
    typed = filled_in(hall, engineers=[edda.pk], note="keep me", title="")
    page = desk.post("/sessions/check", typed)
    press = next(each for each in page.context["answer"].alternatives if each.words.startswith("Loom Room"))
    assert press.words in said(page)
    page = desk.post("/sessions/fill-in", typed | {"fill": press.value})
    form = page.context["form"]
    assert page.status_code == 200
    assert (str(form["room"].value()), form["note"].value()) == (str(loom.pk), "keep me")
    assert form["engineers"].value() == []
    assert "Filled in below, and not saved yet" in said(page)
    assert Session.objects.filter(room=loom).count() == 0
    again = {name: form.data.getlist(name) for name in form.data} | {"title": "Quartet"}
    assert desk.post("/sessions/new", again).status_code == 302
    assert Session.objects.get(room=loom).load_in == at("2027-03-04 09:20")


def test_a_press_that_was_tampered_with_sets_only_what_it_may(hall: Room, desk: Browser) -> None:
    page = desk.post(
        "/sessions/fill-in", filled_in(hall) | {"fill": "note=x&title=y&room=attic&without=" + "9" * 30}
    )
    assert page.status_code == 200
    assert page.context["form"]["title"].value() == "Quartet and harmonium"
    assert "That room isn't one of the house's." in said(page)


def test_a_closed_room_is_in_the_way_like_a_session(hall: Room) -> None:
    closed = SessionKind.objects.get(site=hall.site, name="closed")
    made = book(manager(), make_draft(hall, "08:00", "20:00", title="Floor sanded", kind=closed))
    assert made.claims.get().purpose == Claim.Purpose.CLOSURE
    assert found_for(make_draft(hall, "10:00", "12:00"))[0].draft.load_in != at("2027-03-04 10:00")
