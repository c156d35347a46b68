"""Any sequence of what managers, the bench and the worker do, with plans: every promise about claims holds."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import transaction
from django.utils import timezone
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from bookings.booking import Called, Draft, book, cancel, change
from bookings.drafts import as_draft
from bookings.holds import NotNow, challenge, confirm, lapse_holds, release
from bookings.ladder import PastHolds, ranks
from bookings.models import Job, Session, SessionKind
from studio.claims import Conflict
from studio.faults import mend, report_fault, set_expected_back, start_bench
from studio.models import Claim, Fault, GearUnit, Person, Phantom, Resource, Role, Room
from tasks.follow import replan_stale
from tests.bookings.cast import make_job, manager
from tests.house import at, channel, make_mic, make_person, make_preamp, make_room, make_stock

HELD, CONFIRMED = Session.Status.HELD, Session.Status.CONFIRMED
START = at("2027-03-01 11:00")  # a Monday
ZERO = at("2027-03-04 10:00")
QUARTER = timedelta(minutes=15)
LISTS = ["", "2 vocals", "lead vocal, acoustic guitar", "bass DI, 2 BVs"]
ROOMS = ["Studio", "Booth", "Loft"]
WAITS = [timedelta(minutes=1), timedelta(hours=5), timedelta(hours=24), timedelta(days=2)]
wish = {
    "room": st.sampled_from(ROOMS),
    "start": st.integers(0, 9),
    "length": st.integers(1, 6),
}


class House(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.traveller = time_machine.travel(START, tick=False)
        self.clock = self.traveller.start()
        self.outer = transaction.atomic()
        self.outer.__enter__()

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.outer.__exit__(None, None, None)
        self.traveller.stop()

    def draft(self, room: str, start: int, length: int, **fields: Any) -> Draft:
        begin = ZERO + start * QUARTER
        place = Room.objects.select_related("site").get(name=room)
        values = {"setup_minutes": 0, "turnaround_minutes": 0, **fields}
        return Draft(Job.objects.get().pk, place, "Any", begin, begin, begin + length * QUARTER, **values)

    def step(self, do: Callable[[], Any]) -> None:
        """A minute later; what is refused leaves nothing behind, which the invariants would see."""
        self.clock.shift(timedelta(minutes=1))
        try:
            with transaction.atomic():
                do()
        except (PastHolds, Conflict, NotNow):
            return

    def any_of(self, which: int, *statuses: str) -> Session | None:
        found = list(Session.objects.filter(status__in=statuses).with_all().order_by("pk"))
        return found[which % len(found)] if found else None

    @rule(
        status=st.sampled_from([HELD, CONFIRMED]),
        words=st.sampled_from(LISTS),
        people=st.sets(st.sampled_from(["Edda", "Otis"]), max_size=2),
        spare=st.sampled_from([0, 0, 30]),
        **wish,
    )
    def book_one(
        self, status: str, words: str, people: set[str], spare: int, room: str, start: int, length: int
    ) -> None:
        crew = tuple(Called(p.pk, Role.ENGINEER) for p in Person.objects.filter(name__in=people))
        draft = self.draft(
            room, start, length, status=status, instrument_list=words, crew=crew, spare_minutes=spare
        )
        self.step(lambda: book(manager(), draft, overrule="paid" if start % 2 else ""))

    @rule(**wish)
    def close_a_room(self, room: str, start: int, length: int) -> None:
        kind = SessionKind.objects.get(nature=SessionKind.Nature.CLOSURE)
        self.step(lambda: book(manager(), self.draft(room, start, length, kind=kind), overrule="works"))

    @rule(which=st.integers(0, 9), **wish)
    def move_one(self, which: int, room: str, start: int, length: int) -> None:
        if session := self.any_of(which, HELD, CONFIRMED):
            moved = self.draft(room, start, length)
            times = (moved.load_in, moved.downbeat, moved.end)
            draft = as_draft(session).moved(*times, room=moved.room)
            self.step(lambda: change(manager(), session.pk, session.version, draft))

    @rule(which=st.integers(0, 9), do=st.sampled_from(["challenge", "confirm", "release", "cancel"]))
    def answer_one(self, which: int, do: str) -> None:
        session = self.any_of(which, *([HELD] if do != "cancel" else [HELD, CONFIRMED]))
        if session is None:
            return
        by, pk, version = manager(), session.pk, session.version
        self.step(
            {
                "challenge": lambda: challenge(by, pk),
                "confirm": lambda: confirm(by, pk, version, "paid" if which % 2 else ""),
                "release": lambda: release(by, pk),
                "cancel": lambda: cancel(by, pk, version, "any"),
            }[do]
        )

    @rule(number=st.integers(0, 3), on_channel=st.booleans(), back=st.sampled_from([None, 3, 4]))
    def repair_one(self, number: int, on_channel: bool, back: int | None) -> None:
        unit = GearUnit.objects.order_by("pk")[number]
        part = channel(unit, 1) if on_channel and unit.channels.exists() else None
        fault = report_fault(manager(), unit, part, Fault.Effect.DEAD)
        if back and fault.closed_at is None:
            set_expected_back(manager(), fault, timezone.now() + timedelta(days=back))
            start_bench(manager(), fault)

    @rule(which=st.integers(0, 9))
    def mend_one(self, which: int) -> None:
        faults = list(Fault.objects.open().order_by("pk"))
        if faults:
            mend(manager(), faults[which % len(faults)], "cable", heard=True)

    @rule(wait=st.sampled_from(WAITS))
    def time_passes(self, wait: timedelta) -> None:
        if timezone.now() + wait < ZERO:
            self.clock.shift(wait)
            lapse_holds()
        replan_stale()

    @invariant()
    def no_two_firm_claims_overlap(self) -> None:
        by_resource: dict[int, list[Claim]] = {}
        for claim in Claim.objects.firm().filter(exclusive=True):
            by_resource.setdefault(claim.resource_id, []).append(claim)
        for claims in by_resource.values():
            for number, one in enumerate(claims):
                for other in claims[:number]:
                    assert not one.span.overlaps(other.span), (str(one), str(other))

    @invariant()
    def no_stock_goes_under_zero_at_any_instant(self) -> None:
        for stock in Resource.objects.filter(exclusive=False):
            claims = list(Claim.objects.firm().filter(resource=stock))
            for instant in {claim.starts for claim in claims}:
                used = sum(claim.quantity for claim in claims if instant in claim.span)
                assert used <= stock.capacity

    @invariant()
    def ranks_have_no_gaps(self) -> None:
        now = timezone.now()
        standing = list(Session.objects.holds(now).order_by("held_at", "pk"))
        claims = list(Claim.objects.filter(firm=False).exclude(purpose__in=["call", "gear"]))
        worst = dict.fromkeys((hold.pk for hold in standing), 0)
        for claim in claims:
            here = [
                hold.pk
                for hold in standing
                if any(
                    c.origin_id == hold.pk and c.resource_id == claim.resource_id and claim.starts in c.span
                    for c in claims
                )
            ]
            for place, pk in enumerate(here, start=1):
                worst[pk] = max(worst[pk], place)
        assert ranks(standing, now) == worst

    @invariant()
    def a_repair_holds_what_is_out_and_nobody_else_does(self) -> None:
        now = timezone.now()
        for fault in (
            Fault.objects.open().filter(severity=Fault.Severity.OUT).select_related("unit", "channel")
        ):
            thing = fault.channel or fault.unit
            firm = Claim.objects.firm().filter(resource_id=thing.resource_id)
            assert {c.purpose for c in firm if now in c.span} == {Claim.Purpose.REPAIR}

    @invariant()
    def claims_stand_just_for_what_stands(self) -> None:
        for session in Session.objects.all():
            assert Claim.objects.of(session).exists() is not session.cancelled


@pytest.fixture
def house(db: None) -> None:
    """A studio with its booth and a loft; one small rack and few microphones, so that sessions compete."""
    make_room("Studio", parts=[make_room("Booth")]), make_room("Loft")
    make_preamp("Oak", 4)
    for number in range(3):
        make_mic(f"C-{number}", "large condenser", Phantom.NEEDS, max_spl_db=140, current_ma=4)
    for name in ("tall boom", "short boom", "straight"):
        make_stock(name, 2)
    manager(), make_job()
    make_person(Role.ENGINEER, name="Edda"), make_person(Role.ENGINEER, name="Otis")


@pytest.mark.usefixtures("house")
def test_every_promise_about_claims_holds_after_any_sequence() -> None:
    options = settings(
        max_examples=12,
        stateful_step_count=14,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )
    run_state_machine_as_test(House, settings=options)
