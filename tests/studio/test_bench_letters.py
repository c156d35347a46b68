"""Whoever reported a fault hears once how it went on; nobody hears of what they did themselves."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine

from studio.faults import clear_suspect, hear, mend, note, report_fault, set_expected_back, start_bench
from studio.models import Fault, GearUnit, Notice, Person, Role
from studio.repairs import settle
from tests.house import at, channel, make_mic, make_person, make_preamp

pytestmark = pytest.mark.django_db
NOW = at("2027-03-02 16:40")
Effect = Fault.Effect


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def tech() -> Person:
    return make_person(Role.TECH, name="Bo Lind")


@pytest.fixture
def engineer() -> Person:
    return make_person(Role.ENGINEER)


@pytest.fixture
def oak() -> GearUnit:
    return make_preamp("Oak", 4)


def letters() -> list[tuple[Person, str]]:
    return [(notice.person, notice.subject) for notice in Notice.objects.order_by("pk")]


def test_the_reporter_hears_how_it_ended_once(tech: Person, engineer: Person, oak: GearUnit) -> None:
    fault = report_fault(engineer, oak, channel(oak, 3), Effect.NO_PHANTOM, words="dead at noon")
    start_bench(tech, fault)
    set_expected_back(tech, fault, NOW + timedelta(days=2))
    note(tech, fault, "looks like the transistor")
    assert letters() == []
    mend(tech, fault, "new transistor", heard=True)
    settle(fault)  # as another change of the unit does
    (notice,) = Notice.objects.all()
    assert (notice.person, notice.subject) == (engineer, "Oak channel 3 is mended")
    assert notice.path == "/gear/Oak?channel=3"
    assert notice.text == (
        "You reported Tue 2 March, 16:40: Oak channel 3, dead at noon.\n"
        "It is mended and back in service, closed by Bo Lind.\n"
        "What was done: new transistor\n"
        "Thank you for saying so."
    )


def test_what_comes_back_unheard_asks_the_reporter_to_listen_and_each_return_is_told(
    tech: Person, engineer: Person
) -> None:
    other = make_person(Role.ENGINEER)
    fault = report_fault(engineer, make_mic("R-1"), None, Effect.DEAD)
    mend(tech, fault, "new ribbon")
    hear(other, fault, fine=False, words="still thin")
    mend(tech, fault, "another ribbon")
    hear(other, fault)
    assert letters() == [
        (engineer, "R-1 is back, not yet heard"),
        (engineer, "R-1 is back, not yet heard"),
        (engineer, "R-1 is mended"),
    ]


def test_of_several_suspects_the_one_that_was_not_it_is_told_too(
    tech: Person, engineer: Person, oak: GearUnit
) -> None:
    mic = make_mic("R-1")
    fault = report_fault(engineer, mic, None, Effect.CRACKLES, suspects=[(oak, channel(oak, 1))])
    clear_suspect(tech, fault, "quiet on another channel")
    assert letters() == [(engineer, "R-1 was not the cause")]


def test_nobody_is_told_of_what_they_did_themselves_or_after_they_left(
    tech: Person, engineer: Person
) -> None:
    mine = report_fault(tech, make_mic("R-1"), None, Effect.DEAD)
    mend(tech, mine, "the lead", heard=True)
    gone = report_fault(engineer, make_mic("R-2"), None, Effect.DEAD)
    unknown = report_fault(engineer, make_mic("R-3"), None, Effect.DEAD)
    engineer.is_active = False
    engineer.save()
    mend(tech, Fault.objects.get(pk=gone.pk), "the lead", heard=True)
    Fault.objects.filter(pk=unknown.pk).update(reported_by=None)
    mend(tech, Fault.objects.get(pk=unknown.pk), "the lead", heard=True)
    assert letters() == []
