"""Whose preferences count, in which order, and what a house makes each cost."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
import time_machine
from django.core.exceptions import PermissionDenied

from bookings.booking import Called, book
from bookings.models import Job, Session
from studio.models import Person, Role, Room
from tasks import follow
from tasks.models import HouseCost
from tasks.planning.costs import CONCERNS, MOST_WANTED, Costs, out_of_order
from tasks.planning.plan import plan
from tasks.planning.snapshot import Liking, Switching
from tasks.preferences import NotKept, forget, of_person, prefer
from tasks.weighing import costs_here, weigh
from tests.house import make_person
from tests.tasks.planning_houses import house, mic, mic_need, preamp
from tests.tasks.test_plan_session import MONDAY, draft, hall, job, manager

__all__ = ["hall", "job", "manager"]
RACK = preamp("P-1", 4, Switching.PER_CHANNEL)
SHELF = [
    mic("K-1", model="Kestrel"),
    mic("R-1", "ribbon", model="Rook"),
    mic("S-1", "small condenser", model="Swift"),
]


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(MONDAY, tick=False) as traveller:
        yield traveller


@pytest.fixture
def rui() -> Person:
    return make_person(Role.ENGINEER, name="Rui")


@pytest.fixture
def session(job: Job, hall: Room, manager: Person, rui: Person) -> Session:
    return book(manager, draft(job, hall, "snare top", crew=(Called(rui.pk, Role.ENGINEER),)))


def chosen(**liked: object) -> str | None:
    """Of a moving coil, a ribbon and a small condenser, which the catalogue likes in this order."""
    need = mic_need(1, "moving coil", "ribbon", "small condenser")
    return plan(house([replace(need, **liked)], SHELF, [RACK])).inputs[0].unit  # type: ignore[arg-type]


def test_the_engineer_comes_before_the_house_and_the_house_before_the_catalogue() -> None:
    small, ribbon = Liking(("small condenser",)), Liking(("Rook",))
    assert chosen() == "K-1"
    assert chosen(house=ribbon) == "R-1"
    assert chosen(house=ribbon, own=small) == "S-1"
    assert chosen(own=Liking(("nothing that is here", "R-1"))) == "R-1"
    assert chosen(own=Liking(never=("moving coil",))) == "R-1"
    assert chosen(own=Liking(never=("moving coil", "ribbon", "small condenser"))) == "K-1"
    assert chosen(own=Liking(("ribbon",)), wish="small") == "S-1"


def test_what_an_input_has_had_outweighs_the_way_to_it_but_no_liking_and_what_is_set_up_outweighs_both() -> (
    None
):
    near, far = mic("K-1", model="Kestrel"), mic("K-2", model="Kestrel", here=False)
    need = mic_need(1, "moving coil")

    def pick(**more: object) -> str | None:
        shelf = [near, far, SHELF[1]]
        asked = replace(need, kinds=("moving coil", "ribbon"), **more)  # type: ignore[arg-type]
        return plan(house([asked], shelf, [RACK])).inputs[0].unit

    assert pick() == "K-1"
    assert pick(had="K-2") == "K-2"
    assert pick(had="R-1") == "K-1"
    assert pick(had="R-1", set_up=True) == "R-1"
    assert pick(had="R-1", set_up=True, own=Liking(("Kestrel",))) == "R-1"


def test_filling_one_more_input_outweighs_everything_that_is_liked_had_or_set_up() -> None:
    first = mic_need(1, "moving coil", "ribbon", had="K-1", set_up=True, own=Liking(("K-1",)))
    made = plan(house([first, mic_need(2, "moving coil")], SHELF[:2], [RACK]))
    assert {row.number: row.unit for row in made.inputs} == {1: "R-1", 2: "K-1"}


def test_the_usual_costs_are_in_order_and_a_weighing_that_breaks_it_is_told() -> None:
    assert list(out_of_order(Costs())) == []
    broken = list(out_of_order(replace(Costs(), against_engineer=Costs().against_house)))
    assert [(one.field, other.field) for one, other in broken] == [("against_engineer", "against_house")]
    assert {c.field for c in CONCERNS} == {f for f in Costs.__slots__ if f != "dear_step"}
    assert [c.rank for c in CONCERNS] == sorted(c.rank for c in CONCERNS)


@pytest.mark.django_db
def test_a_preference_counts_for_sessions_of_its_engineer_and_is_learned_only_when_said(
    session: Session, rui: Person, manager: Person, job: Job, hall: Room
) -> None:
    def kind() -> str:
        assert follow.replan(session.pk)
        unit = Session.objects.get(pk=session.pk).plan.inputs.get().unit
        return str(unit.gear_model.microphone.transducer)

    assert kind() == "moving-coil"
    assert not of_person(rui).exists()
    prefer(manager, None, "drum kit", "ribbon")
    assert kind() == "ribbon"
    mine = prefer(rui, rui, "snare top", "moving-coil")
    assert kind() == "moving-coil"
    other = book(manager, draft(job, hall, "snare top", day=4))
    assert other.plan.inputs.get().unit.gear_model.microphone.transducer == "ribbon"
    forget(rui, mine)
    assert kind() == "ribbon"
    prefer(rui, rui, "snare top", "ribbon", never=True)
    assert kind() == "moving-coil"


@pytest.mark.django_db
def test_nobody_keeps_what_is_not_theirs_and_what_is_not_known_is_told(rui: Person, manager: Person) -> None:
    with pytest.raises(PermissionDenied):
        prefer(rui, None, "snare top", "ribbon")
    with pytest.raises(PermissionDenied):
        prefer(rui, manager, "snare top", "ribbon")
    with pytest.raises(PermissionDenied):
        weigh(rui, {"fetched": 1})
    with pytest.raises(NotKept, match="No source and no family is called “glorpophone”"):
        prefer(rui, rui, "glorpophone", "ribbon")
    with pytest.raises(NotKept, match="No kind, model or unit is called “X-99”"):
        prefer(rui, rui, "snare top", "X-99")
    for wants in ("ribbon", "moving-coil", "boundary", "ribbon"):
        prefer(rui, rui, "snare top", wants)
    assert [row.wants for row in of_person(rui)] == ["moving-coil", "boundary", "ribbon"]
    with pytest.raises(NotKept, match=f"{MOST_WANTED} in order are enough"):
        prefer(rui, rui, "snare top", "small condenser")
    assert of_person(rui).count() == MOST_WANTED


@pytest.mark.django_db
def test_a_house_weighs_a_cost_and_goes_back_to_the_usual(manager: Person) -> None:
    assert costs_here() == Costs()
    assert weigh(manager, {"fetched": 7, "dear": 1}).fetched == 7
    assert HouseCost.objects.count() == 1
    assert weigh(manager, {"fetched": Costs().fetched}) == Costs()


def test_the_reasons_name_whose_preference_it_was_and_what_came_second() -> None:
    need = replace(mic_need(1, "moving coil", "ribbon"), own=Liking(("Rook",)))
    rows = plan(house([need], SHELF[:2], [RACK])).inputs
    assert "The engineer prefers Rook for voice." in rows[0].why
    assert "Moving coil is not used: K-1 is free, but the engineer likes it less." in rows[0].why
    assert "Runner-up: K-1 (moving coil), but the engineer likes it less." in rows[0].why
    kept = replace(mic_need(1, "moving coil", "ribbon"), had="R-1", set_up=True)
    [row] = plan(house([kept], SHELF[:2], [RACK])).inputs
    assert "R-1 is set up already." in row.why
    unmet = replace(mic_need(1, "moving coil"), house=Liking(("Swift",)))
    [row] = plan(house([unmet], SHELF[:1], [RACK])).inputs
    assert "Swift, which the house prefers, is not to be had for it in this plan." in row.why
