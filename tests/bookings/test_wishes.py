"""Gear that is wanted by tag is kept for the session, and rooms that can't be booked by themselves are refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest

from bookings.booking import book, cancel, change, what_is_in_the_way
from bookings.drafts import Draft, as_draft
from bookings.holds import confirm
from bookings.models import Session
from bookings.needs import needs_of
from studio.claims import Conflict
from studio.faults import mend, report_fault
from studio.models import Claim, GearUnit, Role, Room
from tasks.follow import replan_stale
from tasks.models import Plan
from tests.bookings.cast import make_draft, make_session, manager
from tests.house import at, make_mic, make_person, make_preamp, make_room, make_unit

pytestmark = pytest.mark.django_db


def wanting(*units: GearUnit, room: Room | None = None, times: str = "10:00 18:00", **fields: Any) -> Draft:
    load_in, end = times.split()
    place = room or make_room(f"Room {Room.objects.count()}")
    return make_draft(place, load_in, end, wanted_units=tuple(unit.pk for unit in units), **fields)


def kept_by(session: Session, unit: GearUnit) -> list[tuple[object, bool]]:
    claims = Claim.objects.of(session).filter(resource=unit.resource_id)
    return [(claim.starts, claim.firm) for claim in claims]


def again(session: Session) -> Session:
    return Session.objects.with_all().get(pk=session.pk)


@pytest.mark.parametrize("make", [make_mic, make_preamp, make_unit])
def test_of_two_sessions_that_want_one_unit_the_second_is_refused_and_told_whose_it_is(
    make: Callable[[str], GearUnit],
) -> None:
    unit = make("Old Ribbon")
    book(manager(), wanting(unit, title="Choir"))
    draft = wanting(unit, times="17:30 20:00")
    sentences = what_is_in_the_way(draft)
    assert len(sentences) == 1
    assert sentences[0].startswith("Old Ribbon is taken: “Choir”")
    assert "out of the wanted gear" in sentences[0]
    with pytest.raises(Conflict):
        book(manager(), draft)
    assert Session.objects.count() == 1
    book(manager(), wanting(unit, times="18:00 20:00"))


def test_a_hold_keeps_nothing_until_it_is_confirmed() -> None:
    unit = make_mic("Old Ribbon")
    hold = book(manager(), wanting(unit, status=Session.Status.HELD))
    assert [firm for _, firm in kept_by(hold, unit)] == [False]
    other = book(manager(), wanting(unit, title="Choir"))
    with pytest.raises(Conflict):
        confirm(manager(), hold.pk, hold.version)
    cancel(manager(), other.pk, other.version, "Rain")
    confirm(manager(), hold.pk, hold.version)
    assert [firm for _, firm in kept_by(hold, unit)] == [True]


def test_what_is_kept_moves_with_the_session_and_is_given_back_when_it_is_wanted_no_more() -> None:
    first, second = make_mic("Old Ribbon"), make_mic("New Ribbon")
    session = book(manager(), wanting(first, instrument_list="1 vocal"))
    moved = wanting(first, second, room=session.room, times="12:00 19:00", instrument_list="1 vocal")
    session = change(manager(), session.pk, session.version, moved)
    assert kept_by(session, first) == kept_by(session, second) == [(at("2027-03-04 12:00"), True)]
    session = change(manager(), session.pk, session.version, replace(moved, wanted_units=(second.pk,)))
    assert kept_by(session, second) == [(at("2027-03-04 12:00"), True)]
    other = book(manager(), wanting(first, times="12:00 19:00"))
    assert kept_by(other, first)


def test_a_repair_takes_what_was_kept_without_stopping_the_session_and_gives_it_back_once_mended() -> None:
    unit, bench = make_mic("Old Ribbon"), make_person(Role.TECH)
    session = book(manager(), wanting(unit))
    fault = report_fault(bench, unit, None, "dead")
    assert not kept_by(session, unit)
    session = again(session)
    assert "Old Ribbon isn't kept for it" in needs_of([session], at("2027-03-01 10:00"))[session.pk]
    session = change(
        manager(), session.pk, session.version, as_draft(session).moved(*_hours("11:00", "19:00"))
    )
    mend(bench, fault, "A new ribbon", heard=True)
    replan_stale()
    assert kept_by(session, unit) == [(at("2027-03-04 11:00"), True)]
    assert not any("kept" in need for need in needs_of([again(session)], at("2027-03-01 10:00"))[session.pk])


def test_a_plan_made_anew_keeps_what_is_wanted_by_work_and_by_upkeep_alike() -> None:
    unit, room = make_mic("Old Ribbon"), make_room()
    upkeep = room.site.session_kinds.filter(nature="upkeep").first()
    for kind, times in ((None, "08:00 10:00"), (upkeep, "10:00 12:00")):
        session = book(manager(), wanting(unit, room=room, times=times, kind=kind))
        if kind is None:
            Plan.objects.update(stale=True)
            assert replan_stale() == 1
        assert len(kept_by(session, unit)) == 1


def test_a_room_that_is_shared_is_booked_by_nobody_however_they_ask() -> None:
    hall, machines = make_room("Hall"), make_room("Machine room", bookable=False)
    for draft in (
        make_draft(machines, "10:00", "12:00"),
        make_draft(hall, "10:00", "12:00", beside=(machines,)),
    ):
        assert "Machine room" in what_is_in_the_way(draft)[0]
        with pytest.raises(Conflict):
            book(manager(), draft)
    session = make_session(hall, "10:00", "12:00")
    with pytest.raises(Conflict):
        change(manager(), session.pk, session.version, replace(as_draft(again(session)), room=machines))
    Room.objects.filter(pk=hall.pk).update(bookable=False)  # what is booked already may still be changed
    session = again(session)
    change(manager(), session.pk, session.version, replace(as_draft(session), title="Other"))


def _hours(start: str, end: str) -> tuple[datetime, datetime, datetime]:
    day = "2027-03-04"
    return at(f"{day} {start}"), at(f"{day} {start}"), at(f"{day} {end}")
