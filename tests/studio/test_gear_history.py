"""How a unit stood at any instant: the events replayed give what was said at the time."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from studio import faults
from studio.claims import in_the_way
from studio.faults import FaultRefused, clear_suspect, hear, mend, other_suspects, report_fault, see_again
from studio.gear.answers import answer
from studio.gear.queries import OUT, ranked_units, whole_units
from studio.gear.state import State, state_of
from studio.models import Channel, Claim, Fault, FaultEvent, GearUnit, Person, Role, Room, Stay
from studio.spans import Span
from studio.whereabouts import moves
from tests.house import at, channel, make_mic, make_person, make_preamp, make_room

pytestmark = pytest.mark.django_db
NOW = at("2027-03-02 16:40")
Effect, Severity, Step = Fault.Effect, Fault.Severity, Fault.Step


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


def seen(unit: GearUnit, number: int | None = None, when: datetime | None = None) -> State:
    found = whole_units().get(pk=unit.pk)
    part = next((c for c in found.channels.all() if c.number == number), None)
    return state_of(found, part, when)


def as_said(found: GearUnit, reader: Person, when: datetime) -> list[str]:
    """Where it is; then mark and words of the whole unit and of each channel."""
    states = [state_of(found, part, when) for part in (None, *found.channels.all())]
    return [answer(found, None, when, reader).where, *(f"{each.mark}: {each.words}" for each in states)]


STEPS = st.lists(
    st.tuples(
        st.sampled_from(
            [
                "report",
                "judge",
                "bench",
                "away",
                "parts",
                "date",
                "no date",
                "again",
                "look",
                "back",
                "mend",
                "hear",
                "move",
                "lend",
                "hire out",
                "home",
            ]
        ),
        st.sampled_from([None, 1, 2]),
        st.integers(0, 3),
        st.integers(1, 40),
    ),
    min_size=3,
    max_size=9,
)
BEGIN = [("report", 1, 1, 1), ("report", None, 3, 1)]


@dataclass
class House:
    by: Person
    oak: GearUnit
    traveller: time_machine.Traveller
    now: datetime = NOW
    rooms: list[Room] = field(default_factory=list)
    told: list[tuple[datetime, list[str]]] = field(default_factory=list)

    def do(self, what: str, number: int | None, which: int, hours: int) -> None:
        by, oak = self.by, self.oak
        open_ones = list(oak.faults.open().order_by("pk"))
        later = self.now + timedelta(hours=hours * 3)
        if what in ("move", "lend", "hire out", "home"):
            self.carry(what, which, later)
            return
        if what == "report":
            part = channel(oak, number) if number else None
            report_fault(
                by, oak, part, [Effect.DEAD, Effect.NO_PHANTOM, Effect.CRACKLES, Effect.NOISY][which]
            )
            return
        if not open_ones:
            return
        fault = open_ones[which % len(open_ones)]
        match what:
            case "judge":
                faults.set_severity(by, fault, list(Severity)[which % 3])
            case "bench":
                faults.start_bench(by, fault)
            case "away":
                faults.send_away(by, fault, "Rill Audio", Decimal(40), later if which else None)
            case "parts":
                faults.wait_for_parts(by, fault, "two valves")
            case "date":
                faults.set_expected_back(by, fault, later)
            case "no date":
                faults.set_expected_back(by, fault, None)
            case "again":
                see_again(by, fault, "once more")
            case "look":
                faults.look_at(by, fault, bool(which), "")
            case "back":
                mend(by, fault, "new capsule", heard=False)
            case "mend":
                mend(by, fault, "cleaned", heard=True)
            case "hear":
                if fault.step == Step.UNHEARD:
                    hear(by, fault, fine=bool(which))

    def carry(self, what: str, which: int, later: datetime) -> None:
        """A unit that is out of use can't be lent, and says so."""
        due = later if which % 2 else None
        kind = Stay.Kind.LOAN if what == "lend" else Stay.Kind.HIRE_OUT
        with suppress(moves.MoveRefused):
            if what == "move":
                moves.send(self.by, self.oak, self.rooms[which % 2], due_at=due)
            elif what == "home":
                moves.here(self.by, self.oak, self.rooms[2])
            else:
                moves.lend(self.by, self.oak, kind, f"Holder {which}", due)

    def write_down(self) -> None:
        self.told.append((self.now, as_said(whole_units().get(pk=self.oak.pk), self.by, self.now)))


@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=STEPS)
def test_for_any_history_the_state_at_an_instant_is_what_was_said_then(
    frozen: time_machine.Traveller, steps: list[tuple[str, int | None, int, int]]
) -> None:
    frozen.move_to(NOW)
    GearUnit.objects.filter(tag="Oak").update(tag=f"Oak {GearUnit.objects.count()}")
    rooms = [make_room(f"Room {Room.objects.count()}") for _ in range(3)]
    house = House(make_person(Role.TECH), make_preamp("Oak", 3, home_room=rooms[2]), frozen, rooms=rooms)
    house.write_down()
    for what, number, which, hours in BEGIN + steps:
        house.now += timedelta(hours=hours)
        frozen.move_to(house.now)
        house.do(what, number, which, hours)
        house.write_down()
    frozen.move_to(house.now + timedelta(days=3))
    oak = whole_units().get(pk=house.oak.pk)
    ends = [when for when, _ in house.told[1:]] + [house.now + timedelta(days=1)]
    for (when, told), end in zip(house.told, ends, strict=True):
        assert as_said(oak, house.by, when) == told
        assert as_said(oak, house.by, end - timedelta(seconds=1)) == told


def test_a_doubt_among_several_is_cleared_one_by_one_and_the_last_one_stays() -> None:
    engineer, tech = make_person(Role.ENGINEER), make_person(Role.TECH)
    mic, other, oak = make_mic("V-1"), make_mic("V-2"), make_preamp("Oak", 4)
    fault = report_fault(
        engineer, mic, None, Effect.NOISY, suspects=[(oak, channel(oak, 3)), (other, None), (mic, None)]
    )
    assert fault.severity == Severity.SUSPECTED
    rack, second = other_suspects(fault)
    assert (rack.channel, second.unit) == (channel(oak, 3), other)
    assert seen(oak, 3).words.startswith("suspected, watch it: noisy")
    clear_suspect(engineer, rack, "another channel did the same")
    assert seen(oak, 3).works
    clear_suspect(engineer, fault, "quiet on another rack")
    assert other_suspects(second) == []
    with pytest.raises(FaultRefused, match="Nothing else is suspected"):
        clear_suspect(engineer, second, "can't be")
    assert not seen(other).works
    mend(tech, second, "new cable inside", heard=True)
    assert seen(other).works
    assert Fault.objects.open().count() == 0


def test_what_came_back_is_doubted_until_somebody_has_heard_it() -> None:
    tech, engineer, mic = make_person(Role.TECH), make_person(Role.ENGINEER), make_mic("V-1")
    fault = report_fault(tech, mic, None, Effect.DEAD)
    mend(tech, fault, "new capsule", heard=False)
    assert not Claim.objects.filter(purpose=Claim.Purpose.REPAIR, ends__isnull=True).exists()
    assert (seen(mic).mark, seen(mic).words) == (
        "broken",
        "back, not yet heard; does not work at all since Tue 2 March, 16:40",
    )
    hear(engineer, fault, fine=False, words="still silent")
    assert seen(mic).mark == "crossed"
    mend(tech, fault, "solder joint", heard=False)
    hear(engineer, fault)
    assert seen(mic).works
    with pytest.raises(FaultRefused, match="isn't waiting to be heard"):
        hear(engineer, fault)


def test_words_say_the_gain_the_pattern_the_way_round_and_where_it_is(
    frozen: time_machine.Traveller,
) -> None:
    tech, mic, oak = make_person(Role.TECH), make_mic("V-1"), make_preamp("Oak", 2)
    report_fault(tech, oak, channel(oak, 1), Effect.NOISY, above_gain_db=40.0)
    assert seen(oak, 1).words == "noisy above 40 dB of gain since Tue 2 March, 16:40"
    assert seen(oak, 1).more == "fine below 40 dB of gain"
    report_fault(
        tech,
        mic,
        None,
        Effect.PATTERN,
        pattern="figure of eight",
        workaround="leave it at cardioid",
        workaround_until=at("2027-03-09 12:00"),
    )
    assert seen(mic).words == "figure of eight is dead since Tue 2 March, 16:40"
    assert "meanwhile: leave it at cardioid, until Tue 9 March, 12:00" in seen(mic).more
    frozen.move_to(at("2027-03-10 12:00"))
    assert "which was to end Tue 9 March, 12:00" in seen(mic).more
    frozen.move_to(NOW)
    fault = report_fault(tech, oak, channel(oak, 2), Effect.DEAD)
    faults.send_away(tech, fault, "Rill Audio", Decimal("40.50"))
    assert seen(oak, 2).words == "away for repair, out since Tue 2 March, 16:40: does not work at all"
    assert "with Rill Audio" in seen(oak, 2).more
    faults.wait_for_parts(tech, fault, "two valves")
    assert seen(oak, 2).words.startswith("on the bench, waiting for parts, out since")
    lost = report_fault(tech, make_mic("V-9"), None, Effect.MISSING)
    assert seen(lost.unit).words == "missing since Tue 2 March, 16:40"


def test_what_each_step_took_is_kept_and_a_closed_fault_takes_no_more() -> None:
    tech, oak = make_person(Role.TECH), make_preamp("Oak", 2, currency="CHF")
    fault = report_fault(tech, oak, None, Effect.DEAD)
    faults.look_at(tech, fault, True, "no sound at all")
    faults.note(tech, fault, "cleaned the contacts", minutes=25, cost=Decimal("3.20"), parts="contact spray")
    mend(tech, fault, "cleaned", heard=True)
    faults.note(tech, fault, "too late")
    told = [(e.kind, e.step, e.minutes, e.cost, e.currency, e.closed) for e in FaultEvent.objects.all()]
    assert told == [
        ("reported", "reported", None, None, "", False),
        ("step", "looked_at", None, None, "", False),
        ("note", "looked_at", 25, Decimal("3.20"), "CHF", False),
        ("closed", "mended", None, None, "", True),
    ]


def test_who_may_report_may_see_it_again_and_hear_it_but_not_mend() -> None:
    assistant, oak = make_person(Role.ASSISTANT), make_preamp("Oak", 2)
    fault = report_fault(assistant, oak, None, Effect.CRACKLES)
    see_again(assistant, fault, "again with the long cable")
    assert FaultEvent.objects.filter(kind="seen_again", note="again with the long cable").count() == 1
    for use in (
        lambda: faults.look_at(assistant, fault, True),
        lambda: faults.note(assistant, fault, "x"),
        lambda: faults.wait_for_parts(assistant, fault, "x"),
        lambda: mend(assistant, fault, "x", heard=False),
    ):
        with pytest.raises(PermissionDenied):
            use()


def test_what_is_lent_is_not_to_be_had_and_says_with_whom_and_until_when(
    frozen: time_machine.Traveller,
) -> None:
    tech, mic = make_person(Role.TECH), make_mic("V-1")
    due = at("2027-03-09 12:00")
    moves.lend(tech, mic, Stay.Kind.LOAN, "Tin Harbour", due)
    report_fault(tech, mic, None, Effect.CRACKLES)
    lent = seen(mic)
    assert (lent.mark, lent.words) == ("crossed", "lent to Tin Harbour since Tue 2 March, 16:40")
    assert lent.more == (
        "due back Tue 9 March, 12:00; suspected, watch it: crackles now and then since Tue 2 March, 16:40"
    )
    assert seen(mic, when=due - timedelta(minutes=1)).mark == "crossed"
    later = seen(mic, when=due)
    assert (later.mark, later.words[:9]) == ("broken", "suspected")
    assert "expected back before then: Tue 9 March, 12:00" in later.more
    assert ranked_units().get(pk=mic.pk).rank == OUT
    frozen.shift(timedelta(days=1))
    moves.here(tech, mic, make_room("Hall"))
    assert seen(mic).words.startswith("suspected")
    assert seen(mic, when=NOW + timedelta(hours=1)).words == lent.words


def test_a_repair_while_it_is_lent_leaves_it_lent(frozen: time_machine.Traveller) -> None:
    tech, oak, due = make_person(Role.TECH), make_preamp("Oak", 2), at("2027-03-09 12:00")
    moves.lend(tech, oak, Stay.Kind.LOAN, "Tin Harbour", due)
    frozen.shift(timedelta(hours=1))
    fault = report_fault(tech, oak, channel(oak, 1), Effect.DEAD)
    faults.set_expected_back(tech, fault, at("2027-03-05 12:00"))
    frozen.shift(timedelta(hours=1))
    kept = [Claim.Purpose.REPAIR, Claim.Purpose.LENT]
    assert purposes_ahead(channel(oak, 1)) == kept
    assert purposes_ahead(channel(oak, 2)) == [Claim.Purpose.LENT]
    mend(tech, fault, "new joint", heard=True)
    assert purposes_ahead(channel(oak, 1)) == [Claim.Purpose.LENT] * 2
    assert in_the_way([channel(oak, 1).resource_id], Span(timezone.now(), None)).last().ends == due


def purposes_ahead(part: Channel) -> list[str]:
    return [claim.purpose for claim in in_the_way([part.resource_id], Span(timezone.now(), None))]
