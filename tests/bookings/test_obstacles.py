"""What is in the way: through which shared part, whose it is and since when it stands there."""

from __future__ import annotations

import pytest
import time_machine
from django.test import Client as Browser

from bookings.booking import book
from bookings.models import Session
from bookings.obstacles import obstacles
from studio.claims import Conflict
from studio.models import Room
from tests.bookings.cast import filled_in, make_draft, make_job, make_session, manager, said
from tests.house import at, make_room

pytestmark = pytest.mark.django_db


def booked(room: Room, **fields: object) -> Session:
    with time_machine.travel(at("2027-02-01 09:05"), tick=False):
        return make_session(room, "10:00", "12:00", title="Choir", **fields)


@pytest.mark.parametrize(
    ("shared", "bookable"), [("Booth", True), ("Machine room", False), ("Tie lines 1 to 16", False)]
)
def test_two_rooms_can_not_both_have_what_they_share_and_it_is_said_through_what(
    shared: str, bookable: bool
) -> None:
    part = make_room(shared, bookable=bookable)
    hall, loom = make_room("Weaving Hall", parts=[part]), make_room("Loom Room", parts=[part])
    booked(hall)
    draft = make_draft(loom, "11:00", "13:00")
    assert obstacles(draft) == [
        f"{shared} is taken: “Choir”, Thu 4 March, 10:00 to 12:00 (session). Loom Room and Weaving Hall share "
        f"{shared}. It is Tin Harbour's, booked Mon 1 February, 09:05."
    ]
    with pytest.raises(Conflict):
        book(manager(), draft)
    assert Session.objects.count() == 1


def test_a_part_that_is_booked_by_itself_is_said_to_be_a_part() -> None:
    booth = make_room("Booth")
    studio = make_room("Studio One", parts=[make_room("Live Room", parts=[booth])])
    booked(booth)
    assert (
        "Booth is a part of Studio One. It is Tin Harbour's"
        in obstacles(make_draft(studio, "11:00", "13:00"))[0]
    )


def test_a_part_of_what_is_taken_whole_says_so() -> None:
    booth = make_room("Booth")
    booked(make_room("Studio One", parts=[booth]))
    sentence = obstacles(make_draft(booth, "11:00", "13:00"))[0]
    assert "Booth is a part of Studio One, which is taken whole." in sentence


def test_the_same_room_needs_no_word_about_parts() -> None:
    hall = make_room("Weaving Hall", parts=[make_room("Booth")])
    booked(hall)
    sentence = obstacles(make_draft(hall, "11:00", "13:00"))[0]
    assert "share" not in sentence
    assert "is a part" not in sentence


def test_a_session_in_two_rooms_is_in_the_way_of_both_and_of_their_parts() -> None:
    booth = make_room("Booth")
    hall, loom = make_room("Weaving Hall"), make_room("Loom Room", parts=[booth])
    dye = make_room("Dye Room", parts=[booth])
    booked(hall, beside=(loom,))
    assert obstacles(make_draft(loom, "11:00", "13:00"))[0].startswith(
        "Loom Room (also Booth) is taken: “Choir”"
    )
    assert "Dye Room and Loom Room share Booth." in obstacles(make_draft(dye, "11:00", "13:00"))[0]
    kiln = make_room("Kiln")
    assert (
        "Dye Room and Loom Room share Booth."
        in obstacles(make_draft(kiln, "11:00", "13:00", beside=(dye,)))[0]
    )


def test_two_rooms_of_one_session_that_share_a_part_take_it_once() -> None:
    booth = make_room("Booth")
    hall, loom = make_room("Weaving Hall", parts=[booth]), make_room("Loom Room", parts=[booth])
    draft = make_draft(hall, "10:00", "12:00", beside=(loom,))
    assert obstacles(draft) == []
    session = book(manager(), draft)
    assert session.claims.filter(resource=booth.resource_id).count() == 1


def test_the_house_s_own_work_is_called_that() -> None:
    hall = make_room("Weaving Hall")
    job = make_job("Inside", "Upkeep")
    job.client.is_house = True
    job.client.save()
    booked(hall, job_id=job.pk)
    assert "It is the house's own, booked" in obstacles(make_draft(hall, "11:00", "13:00"))[0]


def test_the_refusal_at_the_last_moment_says_the_same_as_the_answer(desk: Browser) -> None:
    part = make_room("Machine room", bookable=False)
    hall, loom = make_room("Weaving Hall", parts=[part]), make_room("Loom Room", parts=[part])
    booked(hall)
    for address in ("/sessions/check", "/sessions/new"):
        assert "Loom Room and Weaving Hall share Machine room." in said(desk.post(address, filled_in(loom)))
