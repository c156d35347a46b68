"""Many processes confirm, challenge, release and book at once, on the database the test runs on.

Their clock is the real one, so that the sessions are far ahead.
"""

from __future__ import annotations

from typing import Any

from bookings.booking import cancel
from bookings.models import Session
from studio.models import Room
from tests.bookings.cast import make_job, make_session, manager
from tests.bookings.hold_cast import told
from tests.bookings.test_race import Race, overlaps_of_firm_claims, race, racers, wish
from tests.house import make_room

__all__ = ["race", "racers"]
HELD = Session.Status.HELD
DAY = "2098-03-05"


def hold(room: Room, load_in: str = "10:00", end: str = "12:00") -> Session:
    return make_session(room, f"{DAY} {load_in}", f"{DAY} {end}", status=HELD)


def step(do: str, session: Session) -> dict[str, Any]:
    return wish(do, session.room, f"{DAY} 10:00", f"{DAY} 12:00", session=session.pk)


def test_of_many_who_overrule_each_other_at_once_exactly_one_is_confirmed(race: Race) -> None:
    manager(), make_job()
    hall = make_room("Weaving Hall")
    holds = [hold(hall) for _ in range(16)]
    outcomes = race([[step("overrule", each)] for each in holds])
    assert outcomes["confirmed"] == 1
    assert outcomes["confirmed"] + outcomes["stale"] == 16, outcomes
    assert Session.objects.filter(status="confirmed").count() == 1
    assert not Session.objects.filter(status=HELD).exists()
    assert overlaps_of_firm_claims() == 0
    assert sorted(told(each)[1] for each in holds).count("fell") == 15


def test_one_hold_confirmed_by_many_at_once_is_confirmed_once(race: Race) -> None:
    manager(), make_job()
    mine = hold(make_room("Weaving Hall"))
    outcomes = race([[step("confirm", mine)] for _ in range(12)])
    assert set(outcomes) <= {"confirmed", "stale"}, outcomes
    assert told(mine) == ["booked", "confirmed"]


def test_the_second_is_never_confirmed_past_the_first_without_a_reason(race: Race) -> None:
    """Confirming the second races with releasing the first: either it comes after, or it is refused."""
    manager(), make_job()
    pairs = [(hold(room), hold(room)) for room in (make_room(f"Room {n}") for n in range(8))]
    outcomes = race([[step("release", a)] for a, _ in pairs] + [[step("confirm", b)] for _, b in pairs])
    assert set(outcomes) <= {"released", "confirmed", "past holds"}, outcomes
    for first, second in pairs:
        if "confirmed" in told(second):
            gone = first.history.get(what="released").at
            assert gone <= second.history.get(what="confirmed").at


def test_whoever_cancels_while_a_hold_is_confirmed_over_it_cancels_once(race: Race) -> None:
    manager(), make_job()
    hall = make_room("Weaving Hall")
    first, second = hold(hall), hold(hall)
    race([[step("overrule", second)], [step("cancel", first)], [step("cancel", first)]])
    first.refresh_from_db()
    assert first.cancelled
    assert len({"fell", "cancelled"} & set(told(first))) == 1
    assert cancel(manager(), first.pk, first.version, "again").pk == first.pk
