"""Any sequence of holding, challenging, confirming, releasing, waiting, booking, cancelling and moving."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import transaction
from django.utils import timezone
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from bookings.booking import Draft, Stale, book, cancel, change
from bookings.holds import NotNow, challenge, confirm, lapse_holds, release
from bookings.ladder import PastHolds, ranks
from bookings.models import Job, Session
from bookings.signals import session_changed
from studio.claims import Conflict
from studio.models import Claim, Room
from tests.bookings.cast import make_job, manager
from tests.house import at, make_room

HELD, CONFIRMED = Session.Status.HELD, Session.Status.CONFIRMED
START = at("2027-03-01 11:00")  # a Monday
ZERO = at("2027-03-04 10:00")
QUARTER = timedelta(minutes=15)
ROOMS = {"Studio": {"Studio", "Booth"}, "Booth": {"Booth"}, "Loft": {"Loft"}}
WAITS = [timedelta(minutes=1), timedelta(hours=5), timedelta(hours=24), timedelta(days=2)]
ENDS = {"released", "fell", "cancelled"}


class Ladder(RuleBasedStateMachine):
    """Whatever is refused must have a reason that can be counted by hand on quarters of an hour."""

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

    def draft(self, room: str, start: int, length: int, status: str) -> Draft:
        begin = ZERO + start * QUARTER
        place = Room.objects.select_related("site").get(name=room)
        moments = (begin, begin, begin + length * QUARTER)
        return Draft(Job.objects.get().pk, place, "Any", *moments, (), 0, 0, status=status)

    def step(self, do: Callable[[], Any]) -> str:
        """Does it a minute later; gives the name of what refused it, or nothing."""
        self.clock.shift(timedelta(minutes=1))
        try:
            with transaction.atomic():
                do()
        except (PastHolds, Conflict, NotNow, Stale) as refusal:
            return type(refusal).__name__
        return ""

    def any_of(self, which: int, *statuses: str) -> Session | None:
        found = list(Session.objects.filter(status__in=statuses).select_related("room__site").order_by("pk"))
        return found[which % len(found)] if found else None

    wish = {
        "room": st.sampled_from(sorted(ROOMS)),
        "start": st.integers(0, 9),
        "length": st.integers(1, 6),
    }

    @rule(**wish)
    def hold(self, room: str, start: int, length: int) -> None:
        assert not self.step(lambda: book(manager(), self.draft(room, start, length, HELD)))

    @rule(reason=st.sampled_from(["", "", "paid"]), **wish)
    def book_at_once(self, room: str, start: int, length: int, reason: str) -> None:
        draft = self.draft(room, start, length, CONFIRMED)
        squares = quarters(draft.room, draft.load_in, draft.end)
        now = timezone.now() + timedelta(minutes=1)
        held = {square for hold in Session.objects.holds(now) for square in squares_of(hold)}
        firm = {square for each in Session.objects.filter(status=CONFIRMED) for square in squares_of(each)}
        refused = self.step(lambda: book(manager(), draft, overrule=reason))
        expected = "PastHolds" if squares & held and not reason else "Conflict" if squares & firm else ""
        assert refused == expected

    @precondition(lambda self: Session.objects.filter(status=HELD).exists())
    @rule(which=st.integers(0, 9))
    def challenge_one(self, which: int) -> None:
        hold = self.any_of(which, HELD)
        assert hold
        above = above_by_hand(hold, timezone.now() + timedelta(minutes=1))
        refused = self.step(lambda: challenge(manager(), hold.pk))
        assert refused in ("", "NotNow")
        if above:
            assert refused == "" or not stands_by_hand(hold, timezone.now())

    @precondition(lambda self: Session.objects.filter(status=HELD).exists())
    @rule(which=st.integers(0, 9), reason=st.sampled_from(["", "", "paid"]))
    def confirm_one(self, which: int, reason: str) -> None:
        hold = self.any_of(which, HELD)
        assert hold
        now = timezone.now() + timedelta(minutes=1)
        above = above_by_hand(hold, now)
        stands = stands_by_hand(hold, now)
        firm = {square for each in Session.objects.filter(status=CONFIRMED) for square in squares_of(each)}
        refused = self.step(lambda: confirm(manager(), hold.pk, hold.version, reason))
        if not stands:
            assert refused == "NotNow"
        elif above and not reason:
            assert refused == "PastHolds"
        else:
            assert refused == ("Conflict" if squares_of(hold) & firm else "")

    @rule(which=st.integers(0, 9))
    def release_one(self, which: int) -> None:
        hold = self.any_of(which, HELD)
        if hold:
            assert self.step(lambda: release(manager(), hold.pk)) in ("", "NotNow")

    @rule(which=st.integers(0, 9))
    def cancel_one(self, which: int) -> None:
        session = self.any_of(which, HELD, CONFIRMED)
        if session:
            assert not self.step(lambda: cancel(manager(), session.pk, session.version, "any"))

    @rule(which=st.integers(0, 9), **wish)
    def move_one(self, which: int, room: str, start: int, length: int) -> None:
        session = self.any_of(which, HELD, CONFIRMED)
        if session:
            draft = replace(self.draft(room, start, length, session.status))
            refused = self.step(lambda: change(manager(), session.pk, session.version, draft))
            assert refused in ("", "PastHolds", "Conflict")
            assert not (refused and session.status == HELD)

    @rule(wait=st.sampled_from(WAITS))
    def time_passes(self, wait: timedelta) -> None:
        if timezone.now() + wait < ZERO:
            self.clock.shift(wait)
            lapse_holds()
            assert not Session.objects.fallen(timezone.now()).exists()

    @invariant()
    def no_two_firm_claims_overlap(self) -> None:
        firm = [s for each in Session.objects.filter(status=CONFIRMED) for s in squares_of(each)]
        assert len(firm) == len(set(firm))
        claims = list(Claim.objects.firm())
        for number, one in enumerate(claims):
            for other in claims[:number]:
                assert one.resource_id != other.resource_id or not one.span.overlaps(other.span)

    @invariant()
    def ranks_have_no_gaps(self) -> None:
        """In each quarter of each room the places are 1 to n, and each hold's rank is its worst place."""
        now = timezone.now()
        standing = list(Session.objects.holds(now).order_by("held_at", "pk"))
        worst = dict.fromkeys((hold.pk for hold in standing), 0)
        for square in {square for hold in standing for square in squares_of(hold)}:
            here = [hold for hold in standing if square in squares_of(hold)]
            for place, hold in enumerate(here, start=1):
                worst[hold.pk] = max(worst[hold.pk], place)
        assert ranks(standing, now) == worst

    @invariant()
    def nobody_is_confirmed_beside_a_higher_hold(self) -> None:
        for session in Session.objects.filter(status=CONFIRMED):
            for hold in Session.objects.holds(timezone.now()):
                if hold.held_at < session.confirmed_at and squares_of(hold) & squares_of(session):
                    assert session.history.filter(what="overruled").exists()

    @invariant()
    def only_a_hold_below_which_somebody_challenges_is_asked(self) -> None:
        now = timezone.now()
        standing = list(Session.objects.holds(now))
        asked = set()
        for challenger in standing:
            if challenger.challenged_at:
                above = above_by_hand(challenger, now)
                if above:
                    asked.add(above[0])
        # a hold that fell since the last step is followed up by the tick
        if not Session.objects.fallen(now).exists():
            assert {hold.pk for hold in standing if hold.answer_by} == asked

    @invariant()
    def history_is_complete(self) -> None:
        for session in Session.objects.prefetch_related("history"):
            told = [entry.what for entry in session.history.all()]
            assert told.count("booked") == 1
            assert len(ENDS & set(told)) == int(session.cancelled)
            if session.held_at and session.status == CONFIRMED:
                assert told.count("confirmed") == 1
            counted = {"booked", "changed", "confirmed"} | ENDS
            assert session.version == sum(what in counted for what in told)


def quarters(room: Room, start: datetime, end: datetime) -> set[tuple[str, int]]:
    numbers = range((start - ZERO) // QUARTER, (end - ZERO) // QUARTER)
    return {(name, number) for name in ROOMS[room.name] for number in numbers}


def squares_of(session: Session) -> set[tuple[str, int]]:
    return quarters(session.room, session.load_in, session.end)


def stands_by_hand(hold: Session, now: datetime) -> bool:
    return all(time is None or time > now for time in (hold.lapses_at, hold.answer_by))


def above_by_hand(hold: Session, now: datetime) -> list[int]:
    earlier = [
        other
        for other in Session.objects.filter(status=HELD).order_by("held_at", "pk")
        if stands_by_hand(other, now) and (other.held_at, other.pk) < (hold.held_at, hold.pk)
    ]
    return [other.pk for other in earlier if squares_of(other) & squares_of(hold)]


@pytest.fixture
def house(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """A studio with its booth and a loft; what listens to changes is left out."""
    monkeypatch.setattr(session_changed, "send", lambda *args, **options: [])
    make_room("Studio", parts=[make_room("Booth")]), make_room("Loft")
    manager(), make_job()


@pytest.mark.usefixtures("house")
def test_the_ladder_stands_after_any_sequence() -> None:
    options = settings(
        max_examples=15,
        stateful_step_count=14,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )
    run_state_machine_as_test(Ladder, settings=options)
