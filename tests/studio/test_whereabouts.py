"""Where things are: moves, loans, sets, and counts of a room; claims follow each."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine
from django.core.exceptions import PermissionDenied

from studio import faults
from studio.claims import in_the_way
from studio.gear.queries import whole_units
from studio.gear.state import state_of
from studio.models import Claim, Fault, GearUnit, Journey, Part, Person, Role, Room, Stay
from studio.spans import Span
from studio.whereabouts import carrying, counting, moves, parts
from studio.whereabouts.where import in_words, where_is
from tests.house import (
    at,
    make_mic,
    make_person,
    make_preamp,
    make_room,
    make_site,
    make_stock,
    span,
    take_gear,
)

pytestmark = pytest.mark.django_db

NOW = at("2027-03-02 16:40")
FRIDAY = at("2027-03-05 12:00")


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def tech() -> Person:
    return make_person(Role.TECH, name="Tamsin")


@pytest.fixture
def mic() -> GearUnit:
    return make_mic("D-3", home_room=make_room("Weaving Hall"), storage="shelf 2")


def claims_of(unit: GearUnit) -> list[tuple[str, Span]]:
    found = Claim.objects.filter(resource__in=moves.resource_ids(unit)).order_by("starts", "pk")
    return [(claim.purpose, claim.span) for claim in found]


def state(unit: GearUnit) -> str:
    return state_of(whole_units().get(pk=unit.pk)).words


def test_it_is_at_home_until_somebody_moves_it_and_then_says_who_and_since_when(
    tech: Person, mic: GearUnit, frozen: time_machine.Traveller
) -> None:
    assert where_is(mic).place == "Weaving Hall, shelf 2"
    moves.here(tech, mic, make_room("Loft"))
    frozen.move_to(FRIDAY)
    now = where_is(mic)
    assert (now.room, now.since, now.by, now.at_home) == (make_loft(), NOW, tech, False)
    assert where_is(mic, NOW - timedelta(seconds=1)).at_home
    moves.here(tech, mic, mic.home_room)
    assert where_is(mic).at_home
    assert where_is(mic).by == tech
    assert where_is(mic, NOW).room == make_loft()
    assert mic.stays.count() == 1


def make_loft() -> object:
    return make_site().rooms.get(name="Loft")


def test_what_is_lent_is_claimed_until_it_is_due_and_free_once_it_is_back(
    tech: Person, frozen: time_machine.Traveller
) -> None:
    oak = make_preamp("Oak", 2)
    moves.lend(tech, oak, Stay.Kind.LOAN, "Tin Harbour", FRIDAY)
    assert claims_of(oak) == [(Claim.Purpose.LENT, Span(NOW, FRIDAY))] * 3
    assert in_words(where_is(oak), oak) == (
        "lent to Tin Harbour since Tue 2 March, 16:40; due back Fri 5 March, 12:00"
    )
    frozen.move_to(NOW + timedelta(hours=2))
    moves.here(tech, oak, make_room("Loft"))
    assert claims_of(oak) == [(Claim.Purpose.LENT, Span(NOW, NOW + timedelta(hours=2)))] * 3


def test_a_loan_into_a_session_is_refused_with_its_name_and_nothing_changes(
    tech: Person, mic: GearUnit
) -> None:
    take_gear(mic, span("2027-03-04 10:00", "2027-03-04 18:00"), "Quartet and harmonium")
    with pytest.raises(moves.MoveRefused, match="D-3 is taken: “Quartet and harmonium”, Thu 4 March, 10:00"):
        moves.lend(tech, mic, Stay.Kind.HIRE_OUT, "Tin Harbour", FRIDAY)
    assert not Stay.objects.exists()
    moves.lend(tech, mic, Stay.Kind.HIRE_OUT, "Tin Harbour", at("2027-03-04 10:00"))


def test_what_was_due_back_and_is_not_is_missing_until_somebody_has_it_again(
    tech: Person, mic: GearUnit, frozen: time_machine.Traveller
) -> None:
    moves.lend(tech, mic, Stay.Kind.LOAN, "Tin Harbour", FRIDAY)
    take_gear(mic, span("2027-03-06 10:00", "2027-03-06 18:00"))
    assert moves.raise_overdue() == 0
    frozen.move_to(FRIDAY)
    assert moves.raise_overdue() == 1
    assert moves.raise_overdue() == 0
    assert "missing since Fri 5 March, 12:00" in str(state_of(whole_units().get(pk=mic.pk)))
    assert [c.purpose for c in in_the_way([mic.resource_id], Span(FRIDAY, None))] == [Claim.Purpose.REPAIR]
    frozen.move_to(FRIDAY + timedelta(hours=1))
    moves.here(tech, mic, mic.home_room)
    assert state(mic) == "works"
    assert not list(in_the_way([mic.resource_id], Span(FRIDAY + timedelta(hours=1), None)))


def test_only_those_who_keep_gear_lend_it(mic: GearUnit) -> None:
    with pytest.raises(PermissionDenied):
        moves.lend(make_person(Role.ASSISTANT), mic, Stay.Kind.LOAN, "Tin Harbour", FRIDAY)


def test_a_date_that_is_put_off_keeps_the_claim_with_it(tech: Person, mic: GearUnit) -> None:
    stay = moves.lend(tech, mic, Stay.Kind.LOAN, "Tin Harbour", FRIDAY)
    take_gear(mic, span("2027-03-06 10:00", "2027-03-06 18:00"))
    with pytest.raises(moves.MoveRefused, match="Quartet"):
        moves.extend(tech, stay, at("2027-03-07 12:00"))
    moves.extend(tech, stay, at("2027-03-06 09:00"))
    assert in_the_way([mic.resource_id], Span(FRIDAY, None))[0].ends == at("2027-03-06 09:00")


def test_a_move_to_another_site_takes_its_time_and_then_it_counts_there(tech: Person, mic: GearUnit) -> None:
    yard = make_room("Yard", site=make_site("Quay"))
    first, second = sorted([mic.site, yard.site], key=lambda site: site.pk)
    Journey.objects.create(first=first, second=second, minutes=45)
    assert moves.send(tech, mic, yard).room == yard
    assert claims_of(mic) == [(Claim.Purpose.TRAVEL, Span(NOW, NOW + timedelta(minutes=45)))]
    assert where_is(mic).place == "on its way to Yard, Quay"
    assert where_is(mic, NOW + timedelta(minutes=45)).place == "Yard, Quay"
    mic.refresh_from_db()
    assert mic.site == yard.site


def to_the_quay(tech: Person, mic: GearUnit) -> Span:
    """Sent to another site, 45 minutes away."""
    yard = make_room("Yard", site=make_site("Quay"))
    first, second = sorted([mic.site, yard.site], key=lambda site: site.pk)
    Journey.objects.create(first=first, second=second, minutes=45)
    moves.send(tech, mic, yard)
    return Span(NOW, NOW + timedelta(minutes=45))


def test_a_fault_on_the_way_leaves_the_way_claimed_and_takes_it_on_arrival(
    tech: Person, mic: GearUnit, frozen: time_machine.Traveller
) -> None:
    way = to_the_quay(tech, mic)
    frozen.move_to(NOW + timedelta(minutes=10))
    fault = faults.report_fault(tech, mic, None, Fault.Effect.DEAD)
    out = (Claim.Purpose.REPAIR, Span(way.end or NOW, None))
    assert claims_of(mic) == [(Claim.Purpose.TRAVEL, way), out]
    faults.mend(tech, fault, "it was the lead", heard=True)
    assert claims_of(mic) == [(Claim.Purpose.TRAVEL, way)]


def test_what_is_broken_can_be_sent_to_another_bench_and_is_out_from_its_arrival(
    tech: Person, mic: GearUnit, frozen: time_machine.Traveller
) -> None:
    faults.report_fault(tech, mic, None, Fault.Effect.DEAD)
    way = to_the_quay(tech, mic)
    assert claims_of(mic) == [(Claim.Purpose.TRAVEL, way), (Claim.Purpose.REPAIR, Span(way.end or NOW, None))]
    early = NOW + timedelta(minutes=20)
    frozen.move_to(early)
    moves.here(tech, mic, Room.objects.get(name="Yard"))
    assert claims_of(mic) == [
        (Claim.Purpose.TRAVEL, Span(NOW, early)),
        (Claim.Purpose.REPAIR, Span(early, None)),
    ]


def test_a_move_asked_for_is_a_task_whose_way_is_claimed_until_somebody_has_carried_it(
    tech: Person, mic: GearUnit, frozen: time_machine.Traveller
) -> None:
    yard = make_room("Yard", site=make_site("Quay"))
    leaves = at("2027-03-03 10:00")
    move = carrying.ask(tech, mic, yard, leaves, due_at=FRIDAY)
    assert claims_of(mic) == [(Claim.Purpose.TRAVEL, Span(leaves, leaves + timedelta(minutes=60)))]
    assert where_is(mic).at_home
    here, there = (make_person(Role.ASSISTANT, site=site) for site in (mic.site, yard.site))
    elsewhere = make_person(Role.ASSISTANT, site=make_site("Brook"))
    assert [carrying.to_carry(p) for p in (here, there, elsewhere)] == [[move], [move], []]
    frozen.move_to(at("2027-03-03 10:40"))
    carrying.carried(here, move)
    now = where_is(mic)
    assert (now.room, now.by, now.due_at, now.travels_until) == (yard, here, FRIDAY, None)
    assert claims_of(mic) == [(Claim.Purpose.TRAVEL, Span(leaves, at("2027-03-03 10:40")))]
    frozen.shift(timedelta(hours=1))
    assert carrying.call_off(tech, move).done
    assert where_is(GearUnit.objects.get()).room == yard
    assert carrying.to_carry(here) == []


def test_a_move_that_is_called_off_frees_its_way_and_one_past_a_session_is_refused(
    tech: Person, mic: GearUnit
) -> None:
    yard = make_room("Yard", site=make_site("Quay"))
    fault = faults.report_fault(tech, mic, None, Fault.Effect.DEAD)
    move = carrying.ask(tech, mic, yard, at("2027-03-03 10:00"))
    assert [p for p, _ in claims_of(mic)] == [
        Claim.Purpose.REPAIR,
        Claim.Purpose.TRAVEL,
        Claim.Purpose.REPAIR,
    ]
    carrying.call_off(tech, move)
    assert claims_of(mic) == [(Claim.Purpose.REPAIR, Span(NOW, None))]
    faults.mend(tech, fault, "new lead", heard=True)
    take_gear(mic, span("2027-03-04 10:00", "2027-03-04 18:00"))
    with pytest.raises(moves.MoveRefused, match="D-3 is taken: “Quartet and harmonium”"):
        carrying.ask(tech, mic, yard, at("2027-03-03 10:00"))
    carrying.ask(tech, mic, make_room("Loft"), at("2027-03-03 10:00"))
    carrying.ask(tech, mic, yard, at("2027-03-04 18:00"))
    with pytest.raises(moves.MoveRefused, match="time is past"):
        carrying.ask(tech, mic, yard, NOW)


def test_where_it_stands_can_become_its_home_and_where_it_was_stays_as_it_was(
    tech: Person, mic: GearUnit, frozen: time_machine.Traveller
) -> None:
    with pytest.raises(moves.MoveRefused, match="which room"):
        moves.settle_there(tech, mic)
    yard = make_room("Yard", site=make_site("Quay"))
    moves.here(tech, mic, yard)
    assert not where_is(mic).at_home
    moves.settle_there(tech, mic, "rack 2")
    mic.refresh_from_db()
    assert (mic.where, mic.site, where_is(mic).at_home) == ("Yard, rack 2", yard.site, True)
    before = where_is(mic, NOW - timedelta(days=3))
    assert (before.place, before.since) == ("Weaving Hall, Mill Lane", None)
    frozen.shift(timedelta(days=1))
    assert where_is(mic).place == "Yard, Quay"


def test_a_floater_that_was_elsewhere_still_has_its_place_at_its_own_site(
    tech: Person, frozen: time_machine.Traveller
) -> None:
    mic = make_mic("D-4", storage="cupboard 1")
    yard = make_room("Yard", site=make_site("Quay"))
    moves.here(tech, mic, yard)
    mic.refresh_from_db()
    assert (mic.site, mic.where) == (yard.site, "Mill Lane, cupboard 1")
    assert where_is(mic, NOW - timedelta(hours=1)).place == "Mill Lane, cupboard 1"
    frozen.shift(60)
    moves.here(tech, mic, make_room("Shed", site=make_site("Brook")))
    moves.back_home(tech, mic)
    mic.refresh_from_db()
    assert (mic.site, mic.home_site, where_is(mic).place) == (make_site(), None, "Mill Lane, cupboard 1")
    assert where_is(mic).by == tech


def test_what_a_session_of_the_house_needs_ahead_does_not_leave_it(tech: Person, mic: GearUnit) -> None:
    take_gear(mic, span("2027-03-04 10:00", "2027-03-04 18:00"))
    with pytest.raises(moves.MoveRefused, match="Quartet and harmonium"):
        moves.send(tech, mic, make_room("Yard", site=make_site("Quay")))
    moves.send(tech, mic, make_room("Loft"))
    assert where_is(mic).place == "Loft, Mill Lane"


def test_a_needed_part_that_is_missing_takes_the_set_out_and_any_other_is_a_limit(
    tech: Person, mic: GearUnit
) -> None:
    supply, case = parts.add_part(tech, mic, "supply"), parts.add_part(tech, mic, "case", needed=False)
    parts.part_missing(tech, case)
    assert Fault.objects.get().severity == Fault.Severity.LIMITED
    parts.part_missing(tech, supply)
    parts.part_missing(tech, supply)
    assert Fault.objects.open().count() == 2
    assert [c.purpose for c in in_the_way([mic.resource_id], Span(NOW, None))] == [Claim.Purpose.REPAIR]
    moves.here(tech, mic, mic.home_room)  # the microphone is here; its supply still isn't
    assert state(mic).endswith("supply is missing")
    parts.part_found(tech, supply)
    parts.part_found(tech, case)
    assert state(mic) == "works"
    assert not Part.objects.filter(missing_since__isnull=False).exists()


def test_a_count_tells_what_is_here_missing_misplaced_and_extra(tech: Person, mic: GearUnit) -> None:
    hall, loft = mic.home_room, make_room("Loft")
    lost, elsewhere = make_mic("D-4", home_room=hall, serial="77 12"), make_mic("R-1", home_room=loft)
    lent, retired = make_mic("L-1", home_room=hall), make_mic("Old", home_room=hall, retired=True)
    moves.lend(tech, lent, Stay.Kind.LOAN, "Tin Harbour", None)
    count = counting.begin(tech, hall)
    assert counting.begin(tech, hall) == count
    scans = [f"https://desk.example/u/{mic.pk}", "d-3", f"/u/{elsewhere.pk}/1", "L-1", "Old", "no such"]
    for text in scans:
        counting.scan(tech, count, text)
    seen = counting.outcome(count)
    assert [f.text for f in seen.here] == ["D-3"]
    assert [f.text for f in seen.missing] == ["D-4"]
    assert [(f.text, f.words) for f in seen.misplaced] == [("R-1", "belongs in Loft")]
    assert [(f.text, f.words) for f in seen.extra] == [
        ("L-1", "thought to be lent to Tin Harbour"),
        ("Old", "retired, and still here"),
        ("no such", "no unit has this label"),
    ]
    counting.close(tech, count, lost=[lost.pk], stay=[elsewhere.pk, lent.pk])
    assert state(lost).startswith("missing")
    assert (where_is(elsewhere).room, where_is(lent).at_home) == (hall, True)
    assert not in_the_way([lent.resource_id], Span(NOW, None)).exists()
    again = counting.begin(tech, hall)
    counting.scan(tech, again, "77 12")
    assert [f.text for f in counting.outcome(again).here] == ["D-4"]
    counting.close(tech, again)
    assert state(lost) == "works"
    assert retired.stays.count() == 0
    with pytest.raises(counting.CountRefused):
        counting.scan(tech, again, "D-3")


def test_stock_that_is_lost_counts_less_at_once(tech: Person) -> None:
    booms = make_stock("short boom", 6)
    counting.lose(make_person(Role.ASSISTANT), booms, 2)
    booms.refresh_from_db()
    assert (booms.count, booms.resource.capacity) == (4, 4)
    with pytest.raises(counting.CountRefused, match="There are 4"):
        counting.lose(make_person(Role.ASSISTANT), booms, 5)
