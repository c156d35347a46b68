"""Service plans: what falls due for which unit, slots that keep off sessions, and what doing it changes."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, connection
from django.test.utils import CaptureQueriesContext

from studio.models import Claim, Fault, GearModel, GearUnit, Person, Role, ServiceDone, ServicePlan
from studio.service.doing import ServiceRefused, done, give_up_slot, save_plan, take_slot
from studio.service.rounds import Item, items, key_of
from studio.service.slots import falling_due
from studio.spans import Span
from tests.house import (
    at,
    channel,
    make_many_units,
    make_mic,
    make_model,
    make_person,
    make_preamp,
    make_room,
    make_site,
    make_stock,
    make_unit,
    span,
    take_gear,
)

pytestmark = pytest.mark.django_db
NOW = at("2027-03-02 09:00")  # a Tuesday; the office is open from 10 to 18


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def tech() -> Person:
    return make_person(Role.TECH)


def plan_for(**fields: Any) -> ServicePlan:
    values = {"what": "Look at the valves", "minutes": 60, "starts_on": date(2027, 1, 1), **fields}
    return ServicePlan.objects.create(**values)


def due_of(thing: object) -> Item:
    (item,) = [item for item in falling_due() if item.thing == thing]
    return item


def test_a_plan_of_a_model_is_for_each_of_its_units_but_not_for_retired_ones() -> None:
    model = make_model()
    one, two = make_unit("One", model), make_unit("Two", model)
    make_unit("Gone", model, retired=True)
    make_unit("Other")
    plan_for(gear_model=model, every_days=30)
    assert [item.thing for item in falling_due()] == [one, two]
    assert due_of(one).reason == "every 30 days, counted from Fri 1 January; due since Sun 31 January"


def test_hours_come_from_the_sessions_that_used_the_unit_or_any_of_its_channels() -> None:
    rack = make_preamp("Oak", 4)
    plan_for(unit=rack, every_hours=20)
    take_gear(channel(rack, 1), span("2027-02-20 10:00", "2027-02-20 18:00"))
    take_gear(channel(rack, 2), span("2027-02-20 10:00", "2027-02-20 18:00"))
    assert falling_due() == []
    take_gear(rack, span("2027-03-05 10:00", "2027-03-05 18:00"))
    take_gear(rack, span("2027-03-06 10:00", "2027-03-06 18:00"))
    assert due_of(rack).reason == (
        "8 of 20 hours of use, counted from Fri 1 January; reached on Sat 6 March, as it is booked"
    )


def test_a_hold_and_a_repair_are_no_use() -> None:
    mic = make_mic("R-1")
    plan_for(unit=mic, every_hours=1)
    held = take_gear(mic, span("2027-02-20 10:00", "2027-02-20 18:00"))
    Claim.objects.filter(pk=held.pk).update(firm=False)
    mended = take_gear(mic, span("2027-02-21 10:00", "2027-02-21 18:00"))
    Claim.objects.filter(pk=mended.pk).update(purpose=Claim.Purpose.REPAIR)
    assert falling_due() == []
    assert [item.due.hours for item in items(NOW)] == [0]


def test_a_slot_offered_lies_in_a_gap_and_taking_it_keeps_sessions_off(tech: Person) -> None:
    mic = make_mic("R-1")
    plan = plan_for(unit=mic, every_days=30)
    take_gear(mic, span("2027-03-02 10:00", "2027-03-02 17:30"))
    take_gear(mic, span("2027-03-03 11:00", "2027-03-03 20:00"))
    assert due_of(mic).offered == at("2027-03-03 10:00")
    take_slot(tech, plan, key_of(mic), at("2027-03-03 10:00"))
    claim = Claim.objects.of(plan).get()
    assert (claim.span, claim.purpose) == (span("2027-03-03 10:00", "2027-03-03 11:00"), "service")
    assert due_of(mic).slot == claim
    with pytest.raises(IntegrityError):
        take_gear(mic, span("2027-03-03 10:30", "2027-03-03 12:00"))


@pytest.mark.parametrize("firm", [True, False])
def test_a_slot_on_top_of_a_session_or_of_a_hold_is_refused_and_the_old_one_stays(
    tech: Person, firm: bool
) -> None:
    mic = make_mic("R-1")
    plan = plan_for(unit=mic, every_days=30)
    take_slot(tech, plan, key_of(mic), at("2027-03-03 10:00"))
    booked = take_gear(mic, span("2027-03-04 10:00", "2027-03-04 20:00"), "Quartet")
    Claim.objects.filter(pk=booked.pk).update(firm=firm)
    with pytest.raises(ServiceRefused, match="R-1 is taken then: “Quartet”, Thu 4 March, 10:00 to 20:00"):
        take_slot(tech, plan, key_of(mic), at("2027-03-04 19:30"))
    assert Claim.objects.of(plan).get().starts == at("2027-03-03 10:00")
    take_slot(tech, plan, key_of(mic), at("2027-03-04 09:00"))
    assert Claim.objects.of(plan).get().starts == at("2027-03-04 09:00")


def test_a_slot_can_overlap_its_own_old_one_is_given_up_by_a_press_and_not_taken_in_the_past(
    tech: Person,
) -> None:
    mic = make_mic("R-1")
    plan = plan_for(unit=mic, every_days=30)
    take_slot(tech, plan, key_of(mic), at("2027-03-03 10:00"))
    take_slot(tech, plan, key_of(mic), at("2027-03-03 10:30"))
    with pytest.raises(ServiceRefused, match="That time is past"):
        take_slot(tech, plan, key_of(mic), at("2027-03-02 08:00"))
    give_up_slot(tech, plan, key_of(mic))
    assert not Claim.objects.exists()


def test_two_things_are_never_offered_the_same_hour_of_the_bench(tech: Person) -> None:
    model = make_model()
    one, two = make_unit("One", model), make_unit("Two", model)
    plan = plan_for(gear_model=model, every_days=30)
    assert [item.offered for item in falling_due()] == [at("2027-03-02 10:00"), at("2027-03-02 11:00")]
    take_slot(tech, plan, key_of(two), at("2027-03-02 10:00"))
    assert due_of(one).offered == at("2027-03-02 11:00")


def test_a_round_of_cables_takes_the_whole_count_in_a_gap(tech: Person) -> None:
    cables = make_stock("10 m cable", 40)
    plan = plan_for(what="Test every cable", stock=cables, every_days=30)
    assert due_of(cables).offered == at("2027-03-02 10:00")
    take_slot(tech, plan, key_of(cables), at("2027-03-02 10:00"))
    claim = Claim.objects.get()
    assert (claim.quantity, claim.exclusive) == (40, False)
    with pytest.raises(ServiceRefused, match="out of the count"):
        done(tech, plan, key_of(cables), "two are dead", passed=False)
    done(tech, plan, key_of(cables), "38 good")
    assert falling_due() == []
    assert not Claim.objects.exists()


def test_a_piano_is_tuned_before_the_session_in_a_room_to_itself(tech: Person) -> None:
    booth = make_room("Booth")
    hall = make_room("Hall", parts=[booth])
    grand = make_unit("Grand", make_model(GearModel.Kind.INSTRUMENT), home_room=hall)
    plan = plan_for(what="Tune", unit=grand, before_use_days=2, takes_room=True, minutes=120)
    take_gear(grand, span("2027-03-08 10:00", "2027-03-08 18:00"), "Trio")
    Claim.objects.create(
        resource=booth.resource,
        starts=at("2027-03-06 08:00"),
        ends=at("2027-03-08 08:00"),
        purpose="session",
        reason="Choir",
        origin_type=Claim.objects.get().origin_type,
        origin_id=1,
    )
    item = due_of(grand)
    assert item.reason.endswith("before “Trio”, Mon 8 March, 10:00")
    assert item.offered is None  # the weekend, and the booth is sung in until eight
    with pytest.raises(ServiceRefused, match="Booth is taken then: “Choir”"):
        take_slot(tech, plan, key_of(grand), at("2027-03-08 07:00"))
    take_slot(tech, plan, key_of(grand), at("2027-03-08 08:00"))
    purposes = Claim.objects.of(plan).values_list("resource__name", "purpose")
    assert set(purposes) == {("Grand", "service"), ("Hall", "upkeep"), ("Booth", "upkeep")}


def test_what_is_done_is_counted_anew_with_the_hours_that_it_had_and_ends_its_slot(
    tech: Person, frozen: time_machine.Traveller
) -> None:
    mic = make_mic("R-1")
    plan = plan_for(unit=mic, every_hours=5)
    take_gear(mic, span("2027-02-20 10:00", "2027-02-20 18:00"))
    take_slot(tech, plan, key_of(mic), at("2027-03-02 10:00"))
    frozen.shift(timedelta(minutes=90))
    service = done(tech, plan, key_of(mic), "new valve")
    assert isinstance(service, ServiceDone)
    assert (service.unit, service.hours_used, service.by, service.note) == (mic, 8, tech, "new valve")
    assert Claim.objects.of(plan).get().span == Span(at("2027-03-02 10:00"), at("2027-03-02 10:30"))
    assert falling_due() == []
    assert [item.reason for item in items(at("2027-03-02 11:00"))] == [
        "0 of 5 hours of use, last done Tue 2 March; nothing booked makes it due"
    ]


def test_what_does_not_pass_is_out_of_use_and_stays_due(tech: Person) -> None:
    amp = make_unit("Amp", make_model(GearModel.Kind.AMPLIFIER))
    plan = plan_for(what="Electrical safety test", unit=amp, every_days=30, electrical=True)
    fault = done(tech, plan, key_of(amp), "loose earth", passed=False)
    assert isinstance(fault, Fault)
    assert (fault.severity, fault.words) == ("out", "Electrical safety test: did not pass. loose earth")
    item = due_of(amp)
    assert not ServiceDone.objects.exists()
    assert item.offered is None  # it is out, and nobody knows until when


def test_a_repair_takes_the_slot_away_and_it_is_due_again(tech: Person) -> None:
    from studio.faults import report_fault

    mic = make_mic("R-1")
    plan = plan_for(unit=mic, every_days=30)
    take_slot(tech, plan, key_of(mic), at("2027-03-03 10:00"))
    report_fault(tech, mic, None, Fault.Effect.DEAD)
    assert due_of(mic).slot is None


def test_an_ended_plan_asks_for_nothing_and_gives_its_slots_back(tech: Person) -> None:
    mic = make_mic("R-1")
    plan = plan_for(unit=mic, every_days=30)
    take_slot(tech, plan, key_of(mic), at("2027-03-03 10:00"))
    plan.ended = True
    save_plan(tech, plan)
    assert (falling_due(), Claim.objects.count()) == ([], 0)
    with pytest.raises(ServiceRefused, match="has ended"):
        take_slot(tech, plan, key_of(mic), at("2027-03-03 10:00"))


def test_a_key_of_another_unit_is_refused(tech: Person) -> None:
    plan = plan_for(unit=make_mic("R-1"), every_days=30)
    other = make_mic("R-2")
    for key in (key_of(other), "unit-0", "stock-1", "x"):
        with pytest.raises(ServiceRefused):
            done(tech, plan, key, "")


@pytest.mark.parametrize("role", [Role.ENGINEER, Role.ASSISTANT])
def test_service_is_for_the_bench_and_the_manager(role: Role) -> None:
    someone = make_person(role)
    plan = plan_for(unit=make_mic("R-1"), every_days=30)
    key = key_of(GearUnit.objects.get())
    for act in (
        lambda: save_plan(someone, plan),
        lambda: take_slot(someone, plan, key, at("2027-03-03 10:00")),
        lambda: give_up_slot(someone, plan, key),
        lambda: done(someone, plan, key, ""),
    ):
        with pytest.raises(PermissionDenied, match="work on the bench"):
            act()


def test_many_units_take_no_more_questions_than_few(tech: Person) -> None:
    model, site = make_model(), make_site()
    hall = make_room("Hall", site)
    plan_for(gear_model=model, every_days=30, every_hours=9, takes_room=True)
    counts = []
    for amount in (2, 40):
        GearUnit.objects.all().delete()
        make_many_units(amount, model, home_room=hall)
        with CaptureQueriesContext(connection) as queries:
            assert len(falling_due()) == amount
        counts.append(len(queries))
    assert counts[0] == counts[1]
