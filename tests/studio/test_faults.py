"""Faults take out what they name, a repair wins over bookings, and mending gives everything back."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.exceptions import PermissionDenied

from studio import faults
from studio.claims import Conflict, Wanted, take
from studio.faults import FaultRefused, mend, report_fault, set_expected_back, set_severity, start_bench
from studio.models import Channel, Claim, Fault, GearUnit, Person, Role
from studio.signals import gear_state_changed
from studio.spans import Span
from tests.house import at, channel, make_mic, make_person, make_preamp, make_room, make_site, span, take_gear

pytestmark = pytest.mark.django_db

NOW = at("2027-03-02 16:40")
OUT, LIMITED, SUSPECTED = Fault.Severity.OUT, Fault.Severity.LIMITED, Fault.Severity.SUSPECTED
DEAD, NO_PHANTOM = Fault.Effect.DEAD, Fault.Effect.NO_PHANTOM


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def engineer() -> Person:
    return make_person(Role.ENGINEER)


@pytest.fixture
def tech() -> Person:
    return make_person(Role.TECH)


@pytest.fixture
def oak() -> GearUnit:
    return make_preamp("Oak", 4)


@pytest.fixture
def heard() -> Iterator[list[dict[str, Any]]]:
    """What the signal said, in order."""
    said: list[dict[str, Any]] = []

    def listen(sender: Any, **kwargs: Any) -> None:
        said.append(kwargs)

    gear_state_changed.connect(listen)
    yield said
    gear_state_changed.disconnect(listen)


def repairs(thing: GearUnit | Channel) -> list[Span]:
    claims = Claim.objects.filter(resource_id=thing.resource_id, purpose=Claim.Purpose.REPAIR)
    return [claim.span for claim in claims.order_by("starts")]


def try_to_take(thing: GearUnit | Channel, when: Span) -> None:
    take(make_site(), [Wanted(thing.resource_id, when, Claim.Purpose.GEAR, "Choir")])


def test_a_dead_unit_is_claimed_with_all_its_channels_and_open_ended(engineer: Person, oak: GearUnit) -> None:
    report_fault(engineer, oak, None, DEAD)
    for thing in [oak, *oak.channels.all()]:
        assert repairs(thing) == [Span(NOW, None)]
    with pytest.raises(Conflict):
        try_to_take(channel(oak, 2), span("2027-06-01 10:00", "2027-06-01 12:00"))


def test_a_dead_channel_leaves_the_others_free(engineer: Person, oak: GearUnit) -> None:
    report_fault(engineer, oak, channel(oak, 3), DEAD)
    with pytest.raises(Conflict):
        try_to_take(channel(oak, 3), span("2027-03-03 10:00", "2027-03-03 12:00"))
    try_to_take(channel(oak, 2), span("2027-03-03 10:00", "2027-03-03 12:00"))
    assert repairs(oak) == []


def test_a_limit_or_a_doubt_claims_nothing(engineer: Person, oak: GearUnit) -> None:
    limited = report_fault(engineer, oak, channel(oak, 3), NO_PHANTOM)
    doubted = report_fault(engineer, oak, channel(oak, 4), Fault.Effect.CRACKLES)
    assert (limited.severity, doubted.severity) == (LIMITED, SUSPECTED)
    assert not Claim.objects.exists()


def test_a_repair_displaces_bookings_on_both_sides_of_now(
    engineer: Person, oak: GearUnit, heard: list[dict[str, Any]]
) -> None:
    running, coming = make_room("Running"), make_room("Coming")
    past = take_gear(channel(oak, 1), span("2027-03-01 10:00", "2027-03-01 18:00"), origin=make_room("Past"))
    cut = take_gear(channel(oak, 1), span("2027-03-02 10:00", "2027-03-02 18:00"), origin=running)
    take_gear(channel(oak, 2), span("2027-03-04 10:00", "2027-03-04 18:00"), origin=coming)
    fault = report_fault(engineer, oak, None, DEAD)

    left = {claim.pk: claim.span for claim in Claim.objects.filter(purpose=Claim.Purpose.GEAR)}
    assert left == {past.pk: past.span, cut.pk: span("2027-03-02 10:00", "2027-03-02 16:40")}
    assert [said["fault"] for said in heard] == [fault]
    assert heard[0]["unit"] == oak
    assert {origin_id for _, origin_id in heard[0]["given_up"]} == {running.pk, coming.pk}


def test_a_hold_that_is_not_firm_gives_way_too(
    engineer: Person, oak: GearUnit, heard: list[dict[str, Any]]
) -> None:
    held = take_gear(oak, span("2027-03-04 10:00", "2027-03-04 18:00"))
    Claim.objects.filter(pk=held.pk).update(firm=False)
    report_fault(engineer, oak, None, DEAD)
    assert heard[0]["given_up"] == [(held.origin_type_id, held.origin_id)]


def test_bookings_after_the_return_date_stay(tech: Person, heard: list[dict[str, Any]]) -> None:
    mic = make_mic()
    fault = report_fault(tech, mic, None, Fault.Effect.NOISY, LIMITED)
    set_expected_back(tech, fault, at("2027-03-08 12:00"))
    before = take_gear(mic, span("2027-03-08 09:00", "2027-03-08 12:00"))
    after = take_gear(mic, span("2027-03-08 12:00", "2027-03-08 18:00"))
    set_severity(tech, fault, OUT)
    assert repairs(mic) == [Span(NOW, at("2027-03-08 12:00"))]
    assert not Claim.objects.filter(pk=before.pk).exists()
    assert Claim.objects.filter(pk=after.pk).exists()
    assert [len(said["given_up"]) for said in heard] == [0, 0, 1]


def test_a_return_date_frees_what_lies_behind_it_and_can_slip(
    tech: Person, oak: GearUnit, frozen: time_machine.Traveller
) -> None:
    fault = report_fault(tech, oak, channel(oak, 3), DEAD)
    frozen.shift(timedelta(hours=1))
    set_expected_back(tech, fault, at("2027-03-08 12:00"))
    try_to_take(channel(oak, 3), span("2027-03-08 12:00", "2027-03-08 13:00"))
    set_expected_back(tech, fault, at("2027-03-10 12:00"))
    with pytest.raises(Conflict):
        try_to_take(channel(oak, 3), span("2027-03-09 12:00", "2027-03-09 13:00"))
    assert not Claim.objects.filter(purpose=Claim.Purpose.GEAR).exists()  # the session there gave way


def test_mending_releases_from_now_and_keeps_the_past(
    tech: Person, oak: GearUnit, frozen: time_machine.Traveller
) -> None:
    fault = report_fault(tech, oak, None, DEAD)
    frozen.shift(timedelta(days=2))
    mend(tech, fault, "new fuse, old one aged", heard=True)
    later = NOW + timedelta(days=2)
    for thing in [oak, *oak.channels.all()]:
        assert repairs(thing) == [Span(NOW, later)]
    try_to_take(oak, Span(later, later + timedelta(hours=1)))
    fault.refresh_from_db()
    assert (fault.closed_at, fault.step, fault.outcome) == (
        later,
        Fault.Step.MENDED,
        "new fuse, old one aged",
    )


def test_mending_at_the_instant_of_the_report_leaves_no_claim(tech: Person, oak: GearUnit) -> None:
    mend(tech, report_fault(tech, oak, None, DEAD), "it was the lead", heard=True)
    assert not Claim.objects.exists()


def test_two_faults_hold_a_unit_until_both_are_mended(
    tech: Person, oak: GearUnit, frozen: time_machine.Traveller
) -> None:
    first = report_fault(tech, oak, None, DEAD)
    second = report_fault(tech, oak, channel(oak, 1), Fault.Effect.OTHER, OUT, "knob broken off")
    frozen.shift(timedelta(hours=1))
    mend(tech, first, "new fuse", heard=True)
    soon = span("2027-03-03 10:00", "2027-03-03 12:00")
    with pytest.raises(Conflict):
        try_to_take(channel(oak, 1), soon)
    try_to_take(channel(oak, 2), soon)
    frozen.shift(timedelta(hours=1))
    mend(tech, second, "new knob", heard=True)
    try_to_take(channel(oak, 1), soon)


def test_the_bench_takes_out_what_was_still_usable(tech: Person, oak: GearUnit) -> None:
    fault = report_fault(tech, oak, channel(oak, 3), NO_PHANTOM)
    start_bench(tech, fault)
    assert (fault.step, fault.severity) == (Fault.Step.ON_BENCH, OUT)
    assert repairs(channel(oak, 3)) == [Span(NOW, None)]


def test_judging_a_fault_milder_gives_it_back(
    tech: Person, oak: GearUnit, frozen: time_machine.Traveller
) -> None:
    fault = report_fault(tech, oak, None, Fault.Effect.NOISY, OUT)
    frozen.shift(timedelta(minutes=5))
    set_severity(tech, fault, LIMITED)
    try_to_take(oak, span("2027-03-03 10:00", "2027-03-03 12:00"))


def test_pressing_report_twice_makes_one_fault_and_a_later_report_another(
    engineer: Person, oak: GearUnit, heard: list[dict[str, Any]], frozen: time_machine.Traveller
) -> None:
    first = report_fault(engineer, oak, channel(oak, 3), NO_PHANTOM)
    assert report_fault(engineer, oak, channel(oak, 3), NO_PHANTOM) == first
    assert len(heard) == 1
    frozen.shift(timedelta(hours=1))
    assert report_fault(engineer, oak, channel(oak, 3), NO_PHANTOM) != first


def test_mending_twice_keeps_the_first_outcome(
    tech: Person, oak: GearUnit, frozen: time_machine.Traveller
) -> None:
    fault = report_fault(tech, oak, None, DEAD)
    mend(tech, fault, "new fuse", heard=True)
    frozen.shift(timedelta(hours=1))
    stale = Fault.objects.get(pk=fault.pk)
    stale.closed_at = None  # as a page that was opened before would have it
    mend(tech, stale, "something else", heard=True)
    fault.refresh_from_db()
    assert (fault.outcome, fault.closed_at) == ("new fuse", NOW)


def test_what_is_overdue_stays_out_and_what_had_counted_on_it_gives_way(
    tech: Person, oak: GearUnit, heard: list[dict[str, Any]], frozen: time_machine.Traveller
) -> None:
    fault = report_fault(tech, oak, None, DEAD)
    set_expected_back(tech, fault, at("2027-03-08 12:00"))
    room = make_room("Hopeful")
    take_gear(channel(oak, 1), span("2027-03-08 13:00", "2027-03-08 18:00"), origin=room)
    assert faults.keep_overdue_out() == 0
    frozen.move_to(at("2027-03-08 12:00"))
    assert faults.keep_overdue_out() == 1
    assert [origin_id for _, origin_id in heard[-1]["given_up"]] == [room.pk]
    assert repairs(oak)[-1] == Span(at("2027-03-08 12:00"), None)
    assert faults.keep_overdue_out() == 0


def test_an_error_of_a_listener_undoes_the_report(engineer: Person, oak: GearUnit) -> None:
    def fails(sender: Any, **kwargs: Any) -> None:
        raise RuntimeError("no plan")

    gear_state_changed.connect(fails)
    try:
        with pytest.raises(RuntimeError):
            report_fault(engineer, oak, None, DEAD)
    finally:
        gear_state_changed.disconnect(fails)
    assert not Fault.objects.exists()
    assert not Claim.objects.exists()


@pytest.mark.parametrize("role", [Role.ENGINEER, Role.ASSISTANT])
def test_only_the_bench_and_the_manager_mend(role: Role, oak: GearUnit) -> None:
    someone = make_person(role)
    fault = report_fault(someone, oak, None, DEAD)
    for change in (
        lambda: start_bench(someone, fault),
        lambda: faults.send_away(someone, fault),
        lambda: set_severity(someone, fault, LIMITED),
        lambda: set_expected_back(someone, fault, None),
        lambda: mend(someone, fault, "done", heard=True),
    ):
        with pytest.raises(PermissionDenied, match="Only a bench tech or manager can work on the bench"):
            change()
    fault.refresh_from_db()
    assert (fault.closed_at, fault.severity, fault.step) == (None, OUT, Fault.Step.REPORTED)


def test_nobody_without_a_role_reports(oak: GearUnit) -> None:
    with pytest.raises(PermissionDenied):
        report_fault(make_person(), oak, None, DEAD)


def test_what_makes_no_sense_is_refused_in_a_sentence(tech: Person, oak: GearUnit) -> None:
    with pytest.raises(FaultRefused, match="can't begin in the future"):
        report_fault(tech, oak, None, DEAD, since=NOW + timedelta(minutes=1))
    with pytest.raises(FaultRefused, match="no such channel"):
        report_fault(tech, oak, channel(make_preamp("Elm", 2), 1), DEAD)
    fault = report_fault(tech, oak, None, DEAD)
    with pytest.raises(FaultRefused, match="That time is past"):
        set_expected_back(tech, fault, NOW)


def test_what_was_expected_back_and_is_not_counts_as_out_until_somebody_says_more() -> None:
    with time_machine.travel(at("2027-03-01 09:00"), tick=False):
        unit, tech = make_mic("R-1"), make_person(Role.TECH)
        fault = report_fault(tech, unit, None, Fault.Effect.DEAD)
        set_expected_back(tech, fault, at("2027-03-03 12:00"))
        after = span("2027-03-04 10:00", "2027-03-04 18:00")
        assert not Fault.objects.during(after).exists()
    with time_machine.travel(at("2027-03-03 13:00"), tick=False):
        assert Fault.objects.during(after).get() == fault
        mend(tech, fault, "new ribbon", heard=True)
        assert not Fault.objects.during(after).exists()
        assert Fault.objects.during(span("2027-03-02 10:00", "2027-03-02 18:00")).get() == fault
