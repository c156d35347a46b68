"""Any sequence of booking, changing and cancelling, against a grid of minutes that is kept by hand."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bookings.booking import Called, Draft, book, cancel, change
from bookings.models import Job, Session
from bookings.signals import session_changed
from studio.claims import Conflict
from studio.models import Claim, Person, Role, Room
from tests.bookings.cast import make_job, manager
from tests.house import at, make_person, make_room

QUARTERS = 16  # a grid of four hours from ten o'clock
ZERO = at("2027-03-04 10:00")
ROOMS, PEOPLE = ["Studio", "Booth", "Dye Room", "Loft"], ["Edda", "Otis"]
TAKES = {
    "Studio": {"Studio", "Booth"},
    "Dye Room": {"Dye Room", "Booth"},
    "Booth": {"Booth"},
    "Loft": {"Loft"},
}
QUARTER = at("2027-03-04 10:15") - ZERO

Grid = dict[int, set[tuple[str, int]]]
step = st.fixed_dictionaries(
    {
        "do": st.sampled_from(["book", "book", "change", "cancel"]),
        "which": st.integers(0, 5),
        "room": st.sampled_from(ROOMS),
        "start": st.integers(1, QUARTERS - 3),
        "length": st.integers(1, 6),
        "before": st.integers(0, 1),
        "after": st.integers(0, 2),
        "people": st.sets(st.sampled_from(PEOPLE), max_size=2),
    }
)


@pytest.fixture
def house(db: None, monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """Rooms that share a booth, and two engineers; what listens to changes is left out."""
    monkeypatch.setattr(session_changed, "send", lambda *args, **options: [])
    booth = make_room("Booth")
    make_room("Studio", parts=[booth]), make_room("Dye Room", parts=[booth]), make_room("Loft")
    for name in PEOPLE:
        make_person(Role.ENGINEER, name=name)
    return {"by": manager(), "job": make_job()}


def draft_of(wish: dict[str, Any]) -> Draft:
    start = ZERO + wish["start"] * QUARTER
    crew = [Called(person.pk, Role.ENGINEER) for person in Person.objects.filter(name__in=wish["people"])]
    return Draft(
        Job.objects.get().pk,
        Room.objects.select_related("site").get(name=wish["room"]),
        "Any",
        start,
        start,
        start + wish["length"] * QUARTER,
        tuple(crew),
        wish["before"] * 15,
        wish["after"] * 15,
    )


def squares(wish: dict[str, Any]) -> set[tuple[str, int]]:
    """The quarters that this wish takes of each room and person."""
    end = wish["start"] + wish["length"]
    whole = range(wish["start"] - wish["before"], end + wish["after"])
    rooms = {(room, quarter) for room in TAKES[wish["room"]] for quarter in whole}
    return rooms | {(name, quarter) for name in wish["people"] for quarter in range(wish["start"], end)}


def taken_in_database() -> set[tuple[str, int]]:
    found = [
        (claim.resource.name, quarter)
        for claim in Claim.objects.firm().select_related("resource")
        for quarter in range(3 * QUARTERS)
        if ZERO + quarter * QUARTER in claim.span
    ]
    assert len(found) == len(set(found)), "two firm claims lie over each other"
    return set(found)


def play(house: dict[str, Any], wishes: list[dict[str, Any]]) -> None:
    grid: Grid = {}
    for wish in wishes:
        known = list(grid)
        target = known[wish["which"] % len(known)] if known else None
        if wish["do"] == "cancel" and target:
            cancel(house["by"], target, Session.objects.get(pk=target).version, "any")
            del grid[target]
        elif wish["do"] != "cancel":
            moved = target if wish["do"] == "change" else None
            others = set().union(*(taken for pk, taken in grid.items() if pk != moved))
            expected = not others & squares(wish)
            pk = try_it(house["by"], draft_of(wish), moved)
            assert (pk is not None) == expected
            if pk is not None:
                grid[pk] = squares(wish)
        assert taken_in_database() == set().union(*grid.values())


def try_it(by: Person, draft: Draft, moved: int | None) -> int | None:
    try:
        if moved:
            return change(by, moved, Session.objects.get(pk=moved).version, draft).pk
        return book(by, draft).pk
    except Conflict:
        return None


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(wishes=st.lists(step, min_size=2, max_size=8))
def test_a_wish_is_granted_just_when_its_quarters_are_free_and_never_two_lie_over_each_other(
    house: dict[str, Any], wishes: list[dict[str, Any]]
) -> None:
    with transaction.atomic():
        play(house, wishes)
        transaction.set_rollback(True)
