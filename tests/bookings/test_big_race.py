"""Eight processes, two hundred attempts each, at everything a manager does, on the database of the run.

Their clock is the real one, so that the sessions are far ahead.
"""

from __future__ import annotations

import random
from collections import Counter
from typing import Any

from django.utils import timezone

from bookings.ladder import ranks
from bookings.models import Session
from studio.models import Claim, Room
from tests.bookings.cast import make_job, make_session, manager
from tests.bookings.test_race import Race, overlaps_of_firm_claims, race, racers, wish
from tests.house import make_room

__all__ = ["race", "racers"]
PROCESSES, ATTEMPTS = 8, 200
HELD = Session.Status.HELD
DAYS = [f"2098-03-{day:02}" for day in range(3, 9)]
STEPS = {
    "book": 3,
    "hold": 4,
    "move": 5,
    "confirm": 4,
    "overrule": 1,
    "challenge": 2,
    "release": 1,
    "cancel": 1,
    "lapse": 1,
}
ANSWERS = {
    "booked",
    "moved",
    "cancelled",
    "confirmed",
    "challenged",
    "released",
    "lapsed",
    "conflict",
    "stale",
    "past holds",
    "not now",
}


def rooms_with_a_shared_booth() -> list[Room]:
    booth = make_room("Booth")
    halls = [make_room(name, parts=[booth]) for name in ("Hall", "Dye Room")]
    return [booth, *halls, *(make_room(f"Room {number}") for number in range(5))]


def anything(choose: random.Random, rooms: list[Room], standing: list[Session]) -> dict[str, Any]:
    start = choose.randrange(8, 19)
    day = choose.choice(DAYS)
    hours = f"{day} {start:02}:00", f"{day} {start + choose.randrange(1, 5):02}:00"
    do = choose.choices(list(STEPS), STEPS.values())[0]
    status = HELD if do == "hold" else "confirmed"
    session = choose.choice(standing).pk
    return wish("book" if do == "hold" else do, choose.choice(rooms), *hours, session=session, status=status)


def test_sixteen_hundred_attempts_leave_no_overlap_no_failure_and_no_lost_write(race: Race) -> None:
    manager(), make_job()
    rooms = rooms_with_a_shared_booth()
    standing = [
        make_session(room, f"{day} {hour:02}:00", f"{day} {hour + 3}:00", status=HELD)
        for day in DAYS
        for hour, room in enumerate(rooms, start=8)
    ]
    choose = random.Random(2098)
    threads = [[anything(choose, rooms, standing) for _ in range(ATTEMPTS)] for _ in range(PROCESSES)]
    outcomes = race(threads, processes=PROCESSES)
    assert sum(outcomes.values()) == PROCESSES * ATTEMPTS
    assert set(outcomes) <= ANSWERS, outcomes
    assert min(outcomes[each] for each in ("booked", "moved", "confirmed", "conflict")) >= 10, outcomes
    assert overlaps_of_firm_claims() == 0
    check_every_session()
    standing_now = Session.objects.holds(timezone.now())
    assert_no_gaps(list(standing_now))


def check_every_session() -> None:
    """The version counts what history says, and claims stand just for what isn't cancelled."""
    for session in Session.objects.prefetch_related("history"):
        told = Counter(entry.what for entry in session.history.all())
        changes = sum(
            told[what] for what in ("booked", "changed", "confirmed", "cancelled", "released", "fell")
        )
        assert session.version == changes, told
        assert told["booked"] == 1
        assert Claim.objects.of(session).exists() is not session.cancelled


def assert_no_gaps(holds: list[Session]) -> None:
    """The places 1 to n at each instant of each room: whoever is nth has n-1 holds of earlier asking there."""
    places = ranks(holds, timezone.now())
    claims = [
        (claim.resource_id, claim.span, claim.origin_id)
        for claim in Claim.objects.filter(firm=False, origin_id__in=places)
    ]
    for hold in holds:
        own = [(room, span) for room, span, pk in claims if pk == hold.pk]
        worst = 0
        for room, span in own:
            starts = [span.start, *(s.start for r, s, _ in claims if r == room and s.start in span)]
            for instant in starts:
                here = {pk for r, s, pk in claims if r == room and instant in s}
                before = [h for h in holds if h.pk in here and (h.held_at, h.pk) < (hold.held_at, hold.pk)]
                worst = max(worst, len(before))
        assert places[hold.pk] == worst + 1
