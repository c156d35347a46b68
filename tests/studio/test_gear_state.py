"""States in words: now, in the past and in the future, for channels and for whole units."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine

from studio import faults
from studio.faults import report_fault
from studio.gear.queries import DOUBTED, LIMITED, OUT, WORKS, ranked_units, whole_units
from studio.gear.state import State, channel_rows, state_of
from studio.models import Channel, Fault, GearUnit, Person, Role
from studio.whereabouts.parts import add_part, part_missing
from tests.house import at, channel, make_mic, make_person, make_preamp, make_site

pytestmark = pytest.mark.django_db

NOW = at("2027-03-02 16:40")
Effect, Severity = Fault.Effect, Fault.Severity


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def tech() -> Person:
    return make_person(Role.TECH)


@pytest.fixture
def oak() -> GearUnit:
    return make_preamp("Oak", 8)


def seen(unit: GearUnit, number: int | None = None, when: str | None = None) -> State:
    fresh = whole_units().get(pk=unit.pk)
    one = channel(unit, number) if number else None
    return state_of(fresh, one, at(when) if when else None)


def test_what_nobody_complained_of_works(oak: GearUnit) -> None:
    assert seen(oak) == seen(oak, 3) == State("full", "works")


def test_no_phantom_says_since_when_what_for_and_until_when(tech: Person, oak: GearUnit) -> None:
    fault = report_fault(tech, oak, channel(oak, 3), Effect.NO_PHANTOM)
    faults.set_expected_back(tech, fault, at("2027-03-08 12:00"))
    state = seen(oak, 3)
    assert state.mark == "half"
    assert state.words == "no phantom since Tue 2 March, 16:40"
    assert "moving-coil" in state.more
    assert state.more.endswith("expected back Mon 8 March, 12:00")
    assert seen(oak, 4).works


def test_the_clock_is_that_of_the_site(tech: Person) -> None:
    mic = make_mic(site=make_site("Quay House", "Europe/Lisbon"))
    report_fault(tech, mic, None, Effect.NOISY)
    assert seen(mic).words == "noisy since Tue 2 March, 15:40"


def test_out_says_why_and_that_no_date_is_known(tech: Person, oak: GearUnit) -> None:
    report_fault(tech, oak, None, Effect.DEAD, words="no lamp, no sound")
    state = seen(oak, 5)  # a whole unit that is out takes its channels with it
    assert state == seen(oak)
    assert (state.mark, state.usable) == ("crossed", False)
    assert state.words == "out, still here, since Tue 2 March, 16:40: does not work at all"
    assert state.more == "“no lamp, no sound”; no return date yet"


def test_a_doubt_is_said_before_anyone_relies_on_it(tech: Person, oak: GearUnit) -> None:
    report_fault(tech, oak, channel(oak, 4), Effect.CRACKLES)
    state = seen(oak, 4)
    assert state.mark == "broken"
    assert state.words == "suspected, watch it: crackles now and then since Tue 2 March, 16:40"
    assert seen(oak).words == "works, with a doubt"


def test_the_worst_fault_speaks_first_and_the_others_are_named(tech: Person, oak: GearUnit) -> None:
    report_fault(tech, oak, channel(oak, 3), Effect.CRACKLES)
    report_fault(tech, oak, channel(oak, 3), Effect.NO_PHANTOM)
    state = seen(oak, 3)
    assert state.words.startswith("no phantom")
    assert "also suspected, watch it: crackles now and then" in state.more


def test_words_of_the_reporter_stand_for_something_else(tech: Person, oak: GearUnit) -> None:
    report_fault(tech, oak, None, Effect.OTHER, words="smells of fish")
    assert seen(oak).words == "suspected, watch it: “smells of fish” since Tue 2 March, 16:40"


def test_the_past_is_answered_from_the_history(
    tech: Person, oak: GearUnit, frozen: time_machine.Traveller
) -> None:
    fault = report_fault(tech, oak, None, Effect.DEAD)
    frozen.shift(timedelta(days=3))
    faults.mend(tech, fault, "new fuse", heard=True)
    frozen.shift(timedelta(days=3))
    assert seen(oak).works
    assert seen(oak, when="2027-03-02 16:39").works
    assert seen(oak, when="2027-03-02 16:40").mark == "crossed"
    assert seen(oak, when="2027-03-05 16:39").more.endswith("mended Fri 5 March, 16:40")
    assert seen(oak, when="2027-03-05 16:40").works


def test_the_future_is_answered_from_the_promised_date_with_a_doubt(tech: Person, oak: GearUnit) -> None:
    fault = report_fault(tech, oak, None, Effect.DEAD)
    assert seen(oak, when="2027-06-01 10:00").mark == "crossed"
    faults.set_expected_back(tech, fault, at("2027-03-08 12:00"))
    assert seen(oak, when="2027-03-08 11:59").mark == "crossed"
    state = seen(oak, when="2027-03-08 12:00")
    assert state.mark == "broken"
    assert state.words == "expected back before then: Mon 8 March, 12:00"
    assert state.more == "now out, still here, since Tue 2 March, 16:40: does not work at all"


def test_a_promise_that_was_not_kept_counts_for_nothing(
    tech: Person, oak: GearUnit, frozen: time_machine.Traveller
) -> None:
    fault = report_fault(tech, oak, None, Effect.DEAD)
    faults.set_expected_back(tech, fault, at("2027-03-08 12:00"))
    frozen.move_to(at("2027-03-09 12:00"))
    for state in (seen(oak), seen(oak, when="2027-03-20 10:00")):
        assert state.mark == "crossed"
        assert state.more.endswith("was expected back Mon 8 March, 12:00, and is not")


def test_on_the_bench_is_said(tech: Person, oak: GearUnit) -> None:
    faults.start_bench(tech, report_fault(tech, oak, channel(oak, 2), Effect.NO_PHANTOM))
    assert seen(oak, 2).words == "on the bench, out since Tue 2 March, 16:40: no phantom"


def test_a_retired_unit_is_retired_from_now_on(oak: GearUnit) -> None:
    oak.retired = True
    oak.save()
    assert seen(oak).words == seen(oak, when="2028-01-01 10:00").words == "retired"
    assert seen(oak, when="2027-01-01 10:00").works  # as far as anybody wrote down


def test_before_it_was_retired_it_was_as_it_was(oak: GearUnit, frozen: time_machine.Traveller) -> None:
    frozen.move_to(at("2027-03-04 12:00"))
    oak.retired = True
    oak.save(update_fields=["retired"])
    frozen.move_to(at("2027-03-09 12:00"))
    assert seen(oak, when="2027-03-03 10:00").works
    assert seen(oak, when="2027-03-05 10:00").words == "retired"
    assert seen(oak).more == "since Thu 4 March, 12:00"
    oak.retired = False
    oak.save()
    assert seen(oak).works
    assert oak.retired_at is None


def test_a_part_that_is_missing_is_named_and_the_unit_is_not_called_missing(tech: Person) -> None:
    """A case is no reason to call a microphone missing; a supply that it needs puts it out of use."""
    mic = make_mic("VM-01")
    case, supply = add_part(tech, mic, "case", needed=False), add_part(tech, mic, "supply")
    part_missing(tech, case)
    assert (seen(mic).mark, seen(mic).words) == ("half", "case is missing since Tue 2 March, 16:40")
    part_missing(tech, supply)
    assert seen(mic).words == "out, still here, since Tue 2 March, 16:40: supply is missing"
    report_fault(tech, mic, None, Effect.MISSING)
    assert seen(mic).words == "missing since Tue 2 March, 16:40"


def test_channels_that_work_are_joined_and_the_one_asked_for_stands_alone(
    tech: Person, oak: GearUnit
) -> None:
    report_fault(tech, oak, channel(oak, 3), Effect.NO_PHANTOM)
    fresh = whole_units().get(pk=oak.pk)
    assert [row.numbers for row in channel_rows(fresh)] == ["1–2", "3", "4–8"]
    assert [row.numbers for row in channel_rows(fresh, asked=6)] == ["1–2", "3", "4–5", "6", "7–8"]
    assert str(channel_rows(fresh)[0].state) == "work"


def test_a_unit_of_which_every_channel_is_out_is_out(tech: Person) -> None:
    ash = make_preamp("Ash", 2)
    report_fault(tech, ash, channel(ash, 1), Effect.DEAD)
    assert (seen(ash).mark, rank(ash)) == ("half", LIMITED)
    report_fault(tech, ash, channel(ash, 2), Effect.DEAD)
    assert (seen(ash).mark, rank(ash)) == ("crossed", OUT)


@pytest.mark.parametrize(
    ("severity", "whole", "expected"),
    [
        (Severity.OUT, True, OUT),
        (Severity.OUT, False, LIMITED),
        (Severity.LIMITED, True, LIMITED),
        (Severity.LIMITED, False, LIMITED),
        (Severity.SUSPECTED, True, DOUBTED),
        (Severity.SUSPECTED, False, DOUBTED),
    ],
)
def test_the_list_sorts_by_the_state_that_the_words_say(
    tech: Person, oak: GearUnit, severity: Severity, whole: bool, expected: int
) -> None:
    one: Channel | None = None if whole else channel(oak, 1)
    fault = report_fault(tech, oak, one, Effect.OTHER, severity)
    assert rank(oak) == expected
    assert seen(oak).mark == {OUT: "crossed", LIMITED: "half", DOUBTED: "broken"}[expected]
    faults.mend(tech, fault, "done", heard=True)
    assert rank(oak) == WORKS
    assert seen(oak).works


def rank(unit: GearUnit) -> int:
    return ranked_units().get(pk=unit.pk).rank
