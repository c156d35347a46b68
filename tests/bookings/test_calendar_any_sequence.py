"""After any changes a feed is what it would be if nothing of it had been kept, and 304 never hides a change."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from typing import Any
from unittest import mock

import pytest
import time_machine
from django.core.cache import cache
from django.core.cache.backends.dummy import DummyCache
from django.db import transaction
from django.test import RequestFactory
from django.utils import timezone
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from bookings.booking import Stale, book, cancel, change
from bookings.calendar import feeds, fragments, views
from bookings.calendar.contents import look
from bookings.drafts import as_draft
from bookings.ladder import PastHolds
from bookings.models import Feed, Session
from bookings.series.booking import InTheWay, Scope, cancel_series, change_series, repeat
from studio.claims import Conflict
from studio.models import Claim, GearUnit, Person, Role, Room
from tests.bookings.calendar_cast import TODAY
from tests.bookings.cast import called, make_draft, manager
from tests.house import at, make_person, make_room, make_unit, take_gear
from tests.outside.calendar_reading import read

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)
Detail = Feed.Detail


@pytest.fixture(autouse=True)
def today() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(TODAY, tick=False) as traveller:
        yield traveller


@dataclass
class House:
    """What is changed; number is that of the step, which and hour are drawn."""

    today: time_machine.Traveller
    hall: Room
    booth: Room
    anna: Person
    otis: Person
    unit: GearUnit
    number: int = 0
    which: int = 0
    hour: int = 0

    def start(self) -> datetime:
        return at(f"2027-03-{4 + self.number:02} {self.hour:02}:00")

    def session(self) -> Session | None:
        found = list(Session.objects.standing().with_all().order_by("pk"))
        return found[self.which % len(found)] if found else None

    def draft(self, **fields: Any) -> Any:
        crew = [called(self.anna), called(self.otis, Role.ASSISTANT)]
        wall = f"2027-03-{4 + self.number:02} {self.hour:02}"
        fields = {"crew": crew, "setup_minutes": 30, **fields}
        return make_draft(self.hall, f"{wall}:00", f"{wall}:50", **fields)

    def alter(self, **fields: Any) -> None:
        if session := self.session():
            change(manager(), session.pk, session.version, replace(as_draft(session), **fields))


def book_one(house: House) -> None:
    book(manager(), house.draft())


def hold(house: House) -> None:
    book(manager(), house.draft(status=Session.Status.HELD))


def lock_out(house: House) -> None:
    end = f"2027-03-{6 + house.number:02} 18:00"
    book(manager(), replace(house.draft(day_hours=(time(10), time(18))), end=at(end)))


def move(house: House) -> None:
    if session := house.session():
        start, rooms = house.start(), [house.hall, house.booth]
        draft = as_draft(session).moved(start, start, start + session.booked, rooms[house.which % 2])
        change(manager(), session.pk, session.version, replace(draft, day_hours=None))


def call_off(house: House) -> None:
    if session := house.session():
        cancel(manager(), session.pk, session.version, "any")


def take_off(house: House) -> None:
    house.alter(crew=(called(house.anna),) if house.which % 2 else ())


def ask_for(house: House) -> None:
    house.alter(crew=(replace(called(house.anna), assigned=False),))


def use_unit(house: House) -> None:
    session = house.session()
    if session and not Claim.objects.overlapping(session.whole).filter(resource=house.unit.resource).exists():
        take_gear(house.unit, session.whole, origin=session)


def repeats(house: House) -> None:
    session = house.session()
    if session and session.series is None:
        repeat(manager(), session.pk, session.version, "FREQ=WEEKLY;COUNT=5", [])


def alter_series(house: House) -> None:
    session = house.session()
    if session and session.series:
        later = as_draft(session).moved(session.load_in + HOUR, session.downbeat + HOUR, session.end + HOUR)
        scope = list(Scope)[house.which % 2]
        change_series(manager(), session.pk, session.version, replace(later, title="Moved"), scope)


def end_series(house: House) -> None:
    session = house.session()
    if session and session.series:
        cancel_series(manager(), session.pk, session.version, Scope.FOLLOWING, "enough")


def rename(house: House) -> None:
    session = house.session()
    things: list[Any] = [house.hall, house.anna, house.hall.site]
    things += [session.job.client] if session else []
    thing = things[house.which % len(things)]
    thing.name = f"Name {house.number}"
    thing.save()


def answers(house: House) -> None:
    if session := house.session():
        session.crew.update(answer="accepted")


def lose_role(house: House) -> None:
    house.anna.roles_held.filter(role=Role.ENGINEER).delete()


def join_rooms(house: House) -> None:
    house.hall.parts.set([house.booth] if house.which % 2 else [])


def sleep(house: House) -> None:
    house.today.shift(timedelta(days=house.hour))


STEPS: list[Callable[[House], None]] = [
    *(
        book_one,
        hold,
        lock_out,
        move,
        call_off,
        take_off,
        ask_for,
        use_unit,
        repeats,
        alter_series,
        end_series,
    ),
    *(rename, answers, lose_role, join_rooms, sleep),
    lambda house: house.alter(note=f"note {house.number}"),
    lambda house: house.alter(beside=(house.booth,)),
    lambda house: house.alter(spare_minutes=30),
]
DRAWN = st.tuples(st.sampled_from(STEPS), st.integers(0, 9), st.integers(8, 20))


# Shrinking takes minutes, and the steps are legible without.
@settings(
    max_examples=8,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)
@given(drawn=st.lists(DRAWN, min_size=2, max_size=8))
def test_after_any_changes_a_feed_is_the_same_as_one_built_from_nothing(
    drawn: list[tuple[Callable[[House], None], int, int]], today: time_machine.Traveller
) -> None:
    today.move_to(TODAY)
    cache.clear()
    with transaction.atomic():
        house = a_house(today)
        watched = feeds_of(house)
        seen = [asked(feed) for feed in watched]
        for house.number, (step, house.which, house.hour) in enumerate(drawn):
            taken_step(step, house)
            for number, feed in enumerate(watched):
                seen[number] = checked(feed, seen[number])
        for has in seen:
            read(has.content)
        transaction.set_rollback(True)


def a_house(today: time_machine.Traveller) -> House:
    anna, otis = make_person(Role.ENGINEER, Role.TECH, name="Anna"), make_person(Role.ASSISTANT, name="Otis")
    house = House(today, make_room("Hall"), make_room("Booth"), anna, otis, make_unit("Q-1"), 0, 0, 10)
    book(manager(), house.draft(title="Band"))
    return house


def feeds_of(house: House) -> list[Feed]:
    job = Session.objects.get().job
    return [
        feeds.make(manager(), house.booth),
        feeds.make(manager(), house.unit),
        feeds.make(manager(), job, Detail.NO_CLIENT),
        feeds.make(house.anna),
        feeds.make(house.anna, house.hall),
        feeds.make(house.otis, None, Detail.BUSY),
    ]


def asked(feed: Feed, **headers: str) -> Any:
    """Without the middleware, which is much of the work."""
    return views.feed(RequestFactory(headers=headers).get("/"), feed.token)


def taken_step(step: Callable[[House], None], house: House) -> None:
    try:
        with transaction.atomic():
            step(house)
    except (Conflict, PastHolds, InTheWay, Stale):
        pass


def checked(feed: Feed, before: Any) -> Any:
    """What whoever had `before` has now, against the feed as if nobody had kept anything."""
    answer = asked(feed, **{"If-None-Match": before["ETag"]})
    has = before if answer.status_code == 304 else answer
    with mock.patch.object(fragments, "cache", DummyCache("", {})):
        from_nothing = look(Feed.objects.get(pk=feed.pk), timezone.now()).octets()
    assert has.content == from_nothing
    return has
