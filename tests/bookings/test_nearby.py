"""Noise hours, neighbours and what joins two rooms: said beforehand, never a refusal."""

from __future__ import annotations

from datetime import time
from typing import Any

import pytest
from django.test import Client as Browser
from hypothesis import given
from hypothesis import strategies as st

from bookings.models import Session, SessionKind
from bookings.nearby import reached, warnings_about_noise, what_joins
from studio.models import Room, RoomPair
from tests.bookings.cast import filled_in, make_draft, make_session, said
from tests.house import make_room, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def hall() -> Room:
    return make_room("Weaving Hall")


def kind(name: str) -> SessionKind:
    return SessionKind.objects.get(site=make_site(), name=name)


def pair(first: Room, second: Room, **fields: Any) -> RoomPair:
    return RoomPair.objects.create(first=first, second=second, **{"sound_carries": True, **fields})


def warned(room: Room, name: str, load_in: str = "10:00", end: str = "14:00", **fields: Any) -> list[str]:
    return warnings_about_noise(make_draft(room, load_in, end, kind=kind(name), **fields))


def test_loud_work_in_a_room_s_quiet_hours_is_warned_of_with_the_hours_it_meets(hall: Room) -> None:
    Room.objects.filter(pk=hall.pk).update(quiet_from=time(22), quiet_until=time(7))
    hall.refresh_from_db()
    assert warned(hall, "tracking", "06:00", "2027-03-05 00:30") == [
        "Weaving Hall has quiet hours from 22:00 to 07:00: “tracking” would be loud in them, "
        "Thu 4 March, 06:00 to 07:00; Thu 4 March, 22:00 to Fri 5 March, 00:30."
    ]
    assert warned(hall, "tracking", "07:00", "22:00") == []
    assert warned(hall, "vocal", "20:00", "23:00") == []


def test_spare_time_is_time_in_which_it_may_be_loud(hall: Room) -> None:
    Room.objects.filter(pk=hall.pk).update(quiet_from=time(22), quiet_until=time(7))
    hall.refresh_from_db()
    assert "22:00 to 22:30" in warned(hall, "tracking", "20:00", "21:45", spare_minutes=45)[0]


def test_the_nights_of_a_lockout_are_quiet(hall: Room) -> None:
    Room.objects.filter(pk=hall.pk).update(quiet_from=time(22), quiet_until=time(7))
    hall.refresh_from_db()
    hours = (time(10), time(20))
    assert warned(hall, "tracking", "10:00", "2027-03-06 20:00", day_hours=hours) == []


def test_a_part_with_quiet_hours_counts_as_well(hall: Room) -> None:
    hall.parts.set([make_room("Booth", quiet_from=time(12), quiet_until=time(13))])
    assert warned(hall, "tracking")[0].startswith("Booth has quiet hours from 12:00 to 13:00")


def test_a_loud_session_is_warned_of_a_neighbour_that_wants_quiet(hall: Room) -> None:
    loom = make_room("Loom Room")
    pair(loom, hall)
    make_session(loom, "12:00", "16:00", title="Audiobook", kind=kind("voice"))
    assert warned(hall, "tracking") == [
        "“Audiobook” in Loom Room (voice) wants quiet, and “tracking” is loud and heard there, "
        "Thu 4 March, 12:00 to 14:00."
    ]
    assert warned(hall, "mix") == []
    assert warned(hall, "tracking", "08:00", "12:00") == []


def test_a_quiet_session_is_warned_of_a_loud_neighbour(hall: Room) -> None:
    loom = make_room("Loom Room")
    pair(hall, loom)
    make_session(
        loom, "12:00", "16:00", title="Brass band", kind=kind("tracking"), status=Session.Status.HELD
    )
    assert warned(hall, "voice") == [
        "“Brass band” in Loom Room (tracking, held and not confirmed) is loud and heard in Weaving Hall, "
        "Thu 4 March, 12:00 to 14:00: “voice” wants quiet."
    ]


def test_what_is_loud_and_wants_quiet_is_told_both_ways(hall: Room) -> None:
    loom = make_room("Loom Room")
    pair(hall, loom)
    both = SessionKind.objects.create(site=hall.site, name="strings", loud=True, wants_quiet=True)
    make_session(loom, "12:00", "16:00", kind=both)
    assert len(warned(hall, "strings")) == 2


def test_rooms_that_sound_does_not_carry_between_and_cancelled_sessions_spoil_nothing(hall: Room) -> None:
    loom, dye = make_room("Loom Room"), make_room("Dye Room")
    pair(hall, loom, sound_carries=False)
    pair(hall, dye)
    make_session(loom, "12:00", "16:00", kind=kind("tracking"))
    make_session(dye, "12:00", "16:00", kind=kind("tracking"), title="Off")
    Session.objects.filter(title="Off").update(status=Session.Status.CANCELLED)
    assert warned(hall, "voice") == []


@pytest.mark.parametrize(
    ("booked", "asked"), [("whole", "next"), ("part", "next"), ("next", "whole"), ("next", "part")]
)
@pytest.mark.parametrize("kept_for", ["whole", "part"])
def test_sound_is_found_through_parts_and_composites(booked: str, asked: str, kept_for: str) -> None:
    part, next_door = make_room("Live Room"), make_room("Loom Room")
    rooms = {"part": part, "next": next_door, "whole": make_room("Studio One", parts=[part])}
    pair(rooms[kept_for], next_door)
    make_session(rooms[booked], "12:00", "16:00", kind=kind("tracking"))
    assert len(warned(rooms[asked], "voice")) == 1


def test_two_rooms_that_share_a_machine_room_are_not_neighbours_of_each_other_s_neighbours() -> None:
    machines = make_room("Machine room", bookable=False)
    hall, loom = make_room("Weaving Hall", parts=[machines]), make_room("Loom Room", parts=[machines])
    far = make_room("Dye Room")
    pair(loom, far)
    make_session(far, "12:00", "16:00", kind=kind("tracking"))
    assert warned(hall, "voice") == []
    assert len(warned(loom, "voice")) == 1


def test_a_session_in_two_rooms_is_heard_from_both(hall: Room) -> None:
    loom, dye = make_room("Loom Room"), make_room("Dye Room")
    pair(loom, dye)
    make_session(dye, "12:00", "16:00", kind=kind("voice"))
    assert len(warned(hall, "tracking", beside=(loom,))) == 1
    make_session(hall, "18:00", "20:00", beside=(loom,), kind=kind("tracking"))
    assert warned(dye, "voice", "17:00", "18:00") == []
    assert len(warned(dye, "voice", "17:00", "19:00")) == 1


def test_the_session_itself_is_no_neighbour_of_its_change(hall: Room) -> None:
    loom = make_room("Loom Room")
    pair(hall, loom)
    session = make_session(loom, "10:00", "14:00", kind=kind("tracking"))
    moved = make_draft(hall, "10:00", "14:00", kind=kind("voice"))
    assert warnings_about_noise(moved, session) == []


def test_the_form_warns_and_books_all_the_same(desk: Browser, hall: Room) -> None:
    loom = make_room("Loom Room")
    pair(hall, loom, tie_lines=12, sight=True)
    make_session(loom, "12:00", "16:00", title="Audiobook", kind=kind("voice"))
    typed = filled_in(hall, kind="tracking")
    asked = said(desk.post("/sessions/check", typed))
    assert "Nothing is in the way." in asked
    assert "Careful, though it can be booked: “Audiobook” in Loom Room (voice) wants quiet" in asked
    assert desk.post("/sessions/new", typed).status_code == 302


def test_what_joins_two_rooms_is_said_when_both_are_taken(desk: Browser, hall: Room) -> None:
    loom, dye = make_room("Loom Room"), make_room("Dye Room")
    pair(loom, hall, tie_lines=12, cue_feed=True, sound_carries=False, remark="by the lift shaft")
    draft = make_draft(hall, "10:00", "14:00", beside=(loom, dye))
    assert what_joins(draft) == [
        "Weaving Hall and Loom Room: 12 tie lines, no sight, a cue feed (by the lift shaft).",
        "Weaving Hall and Dye Room: what joins them isn't kept yet.",
        "Loom Room and Dye Room: what joins them isn't kept yet.",
    ]
    asked = said(desk.post("/sessions/check", filled_in(hall, beside=[loom.pk])))
    assert "Weaving Hall and Loom Room: 12 tie lines, no sight, a cue feed (by the lift shaft)." in asked


@given(
    st.dictionaries(st.integers(0, 8), st.sets(st.integers(0, 8)), max_size=9),
    st.sets(st.integers(0, 8), min_size=1),
)
def test_what_a_room_reaches_holds_itself_and_all_below_and_above(
    parts: dict[int, set[int]], own: set[int]
) -> None:
    found = reached(own, parts)
    assert own <= found
    for whole, made_of in parts.items():
        if whole in own:
            assert made_of <= found
        if made_of & own:
            assert whole in found
