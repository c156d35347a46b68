"""Book, change, cancel and hand over: what they claim, what they refuse, and what they leave behind."""

from __future__ import annotations

from uuid import uuid4

import pytest
import time_machine
from django.core.exceptions import PermissionDenied

from bookings.booking import Stale, book, cancel, change, hand_over, what_is_in_the_way
from bookings.models import Session
from studio.claims import Conflict, counts_free
from studio.models import Claim, Role
from tests.bookings.cast import called, make_draft, make_job, make_session, manager
from tests.house import at, make_person, make_room, make_stock, span

pytestmark = pytest.mark.django_db


def claims_of(session: Session) -> list[tuple[str, str, str, str]]:
    return [
        (c.resource.name, c.purpose, f"{c.starts:%H:%M}", f"{c.ends:%H:%M}")
        for c in Claim.objects.of(session).order_by("resource__name", "starts").select_related("resource")
    ]


def test_a_session_claims_room_and_people_from_setup_to_clear() -> None:
    room = make_room("Weaving Hall")
    engineer, assistant = make_person(Role.ENGINEER, name="Edda"), make_person(Role.ASSISTANT, name="Asa")
    draft = make_draft(
        room,
        "09:20",
        "19:00",
        "10:00",
        setup_minutes=70,
        turnaround_minutes=60,
        crew=[called(engineer), called(assistant, Role.ASSISTANT)],
    )
    session = book(manager(), draft)
    assert claims_of(session) == [  # Berlin is one hour ahead of UTC in March
        ("Asa", "call", "07:10", "19:00"),
        ("Edda", "call", "08:20", "18:00"),
        ("Weaving Hall", "setup", "07:10", "09:00"),
        ("Weaving Hall", "session", "09:00", "18:00"),
        ("Weaving Hall", "turnaround", "18:00", "19:00"),
    ]
    assert [(c.person.name, c.call_at, c.until) for c in session.crew.all()] == [
        ("Asa", session.setup_at, session.clear_at),
        ("Edda", session.load_in, session.end),
    ]


def test_empty_minutes_mean_the_room_s_own() -> None:
    room = make_room(setup_minutes=30, turnaround_minutes=45)
    session = book(manager(), make_draft(room, "10:00", "12:00", setup_minutes=None, turnaround_minutes=None))
    assert (session.setup_at, session.clear_at) == (at("2027-03-04 09:30"), at("2027-03-04 12:45"))


def test_the_same_hour_is_refused_in_words_and_nothing_is_kept() -> None:
    room = make_room("Weaving Hall")
    make_session(room, "10:00", "18:00", title="Choir")
    draft = make_draft(room, "17:00", "20:00", title="Brass band")
    with pytest.raises(Conflict):
        book(manager(), draft)
    assert Session.objects.count() == 1
    assert what_is_in_the_way(draft) == [
        "Weaving Hall is taken: “Choir”, Thu 4 March, 10:00 to 18:00 (session)."
    ]


def test_a_neighbour_that_begins_as_the_other_is_clear_is_allowed() -> None:
    room = make_room()
    make_session(room, "10:00", "14:00", turnaround_minutes=30)
    make_session(room, "14:30", "18:00")
    make_session(room, "08:00", "10:00")
    assert Session.objects.count() == 3


def test_turnaround_keeps_the_next_session_out() -> None:
    room = make_room("Dye Room")
    make_session(room, "10:00", "14:00", turnaround_minutes=30, title="Voice")
    assert what_is_in_the_way(make_draft(room, "14:15", "16:00")) == [
        "Dye Room is taken: “Voice”, Thu 4 March, 14:00 to 14:30 (turnaround)."
    ]


def test_setup_keeps_the_earlier_session_out() -> None:
    room = make_room("Dye Room")
    make_session(room, "10:00", "14:00", setup_minutes=60, title="Voice")
    assert what_is_in_the_way(make_draft(room, "08:00", "09:30")) == [
        "Dye Room is taken: “Voice”, Thu 4 March, 09:00 to 10:00 (setup)."
    ]


def test_the_composite_takes_its_parts_and_their_parts() -> None:
    booth = make_room("Booth")
    live = make_room("Live Room", parts=[booth])
    studio = make_room("Studio One", parts=[live])
    make_session(studio, "10:00", "12:00", title="Brass band")
    assert what_is_in_the_way(make_draft(booth, "11:00", "13:00")) == [
        "Booth is taken: “Brass band”, Thu 4 March, 10:00 to 12:00 (session)."
    ]


def test_a_taken_part_stops_the_composite_and_is_named() -> None:
    booth = make_room("Booth")
    studio = make_room("Studio One", parts=[booth])
    make_session(booth, "11:00", "13:00", title="Spoken word")
    assert what_is_in_the_way(make_draft(studio, "10:00", "12:00")) == [
        "Booth is taken: “Spoken word”, Thu 4 March, 11:00 to 13:00 (session)."
    ]


def test_two_rooms_that_share_a_booth_can_t_both_have_it() -> None:
    booth = make_room("Booth 2")
    first, second = make_room("Weaving Hall", parts=[booth]), make_room("Dye Room", parts=[booth])
    make_session(first, "10:00", "12:00", title="Choir")
    assert what_is_in_the_way(make_draft(second, "10:00", "12:00")) == [
        "Booth 2 is taken: “Choir”, Thu 4 March, 10:00 to 12:00 (session)."
    ]


def test_a_person_can_t_be_on_two_sessions_at_once() -> None:
    edda = make_person(Role.ENGINEER, name="Edda")
    make_session(make_room("Kiln"), "10:00", "14:00", crew=[called(edda)], title="Drums")
    draft = make_draft(make_room("Loft"), "13:00", "16:00", crew=[called(edda)])
    assert what_is_in_the_way(draft) == ["Edda is taken: “Drums”, Thu 4 March, 10:00 to 14:00 (called)."]
    with pytest.raises(Conflict):
        book(manager(), draft)


def test_an_engineer_who_leaves_as_the_other_session_loads_in_is_free() -> None:
    edda = make_person(Role.ENGINEER)
    make_session(make_room("Kiln"), "10:00", "14:00", crew=[called(edda)])
    make_session(make_room("Loft"), "14:00", "16:00", crew=[called(edda)])
    assert Session.objects.count() == 2


def test_a_person_called_twice_on_one_session_is_a_sentence() -> None:
    edda = make_person(Role.ENGINEER, name="Edda")
    draft = make_draft(make_room(), "10:00", "12:00", crew=[called(edda), called(edda, Role.ASSISTANT)])
    assert what_is_in_the_way(draft) == ["Edda is wanted twice at once. Take one of the two out."]
    with pytest.raises(Conflict):
        book(manager(), draft)


def test_moving_frees_the_old_hours_and_takes_the_new_ones() -> None:
    room = make_room()
    session = make_session(room, "10:00", "12:00")
    change(manager(), session.pk, session.version, make_draft(room, "14:00", "16:00"))
    assert what_is_in_the_way(make_draft(room, "10:00", "12:00")) == []
    assert what_is_in_the_way(make_draft(room, "15:00", "17:00")) != []


def test_a_session_may_move_into_its_own_hours() -> None:
    room = make_room()
    session = make_session(room, "10:00", "12:00")
    moved = change(manager(), session.pk, session.version, make_draft(room, "11:00", "13:00"))
    assert moved.load_in == at("2027-03-04 11:00")


def test_a_move_that_is_refused_changes_nothing() -> None:
    room = make_room()
    make_session(room, "14:00", "16:00")
    session = make_session(room, "10:00", "12:00")
    with pytest.raises(Conflict):
        change(manager(), session.pk, session.version, make_draft(room, "13:00", "15:00", title="Other"))
    session.refresh_from_db()
    assert (session.title, session.version, session.load_in) == ("Quartet", 1, at("2027-03-04 10:00"))
    assert claims_of(session) == [(room.name, "session", "09:00", "11:00")]


def test_sequence_rises_when_people_must_notice_and_not_for_a_note() -> None:
    """RFC 5545, section 3.8.7.4: SEQUENCE goes up with what calendars must notice."""
    room = make_room()
    session = make_session(room, "10:00", "12:00")
    noted = change(manager(), session.pk, 1, make_draft(room, "10:00", "12:00", note="ring twice"))
    assert (noted.version, noted.sequence) == (2, 0)
    moved = change(manager(), session.pk, 2, make_draft(room, "10:00", "12:30", note="ring twice"))
    assert (moved.version, moved.sequence) == (3, 1)
    named = change(manager(), session.pk, 3, make_draft(room, "10:00", "12:30", note="ring", title="Trio"))
    assert (named.version, named.sequence) == (4, 2)


def test_another_call_or_role_of_the_same_person_stands_in_the_history() -> None:
    room, asa = make_room(), make_person(Role.ASSISTANT, Role.ENGINEER)
    session = make_session(room, "10:00", "12:00", crew=[called(asa, Role.ASSISTANT)])
    change(manager(), session.pk, 1, make_draft(room, "10:00", "12:00", crew=[called(asa)]))
    assert session.history.first().words == "The crew or their calls have changed."  # type: ignore[union-attr]


def test_another_job_stands_in_the_history() -> None:
    room = make_room()
    session = make_session(room, "10:00", "12:00")
    other = make_job("Larkspur", "Mixes")
    change(manager(), session.pk, 1, make_draft(room, "10:00", "12:00", job_id=other.pk))
    assert session.history.first().words == "It belongs to another job now."  # type: ignore[union-attr]


def test_an_older_version_is_refused_with_what_stands_now() -> None:
    room = make_room()
    session = make_session(room, "10:00", "12:00")
    change(manager(), session.pk, 1, make_draft(room, "11:00", "13:00"))
    with pytest.raises(Stale) as stale:
        change(manager(), session.pk, 1, make_draft(room, "10:00", "12:00", note="mine"))
    assert stale.value.session.load_in == at("2027-03-04 11:00")


def test_cancelling_frees_everything_and_keeps_the_history() -> None:
    room, edda = make_room(), make_person(Role.ENGINEER)
    session = make_session(room, "10:00", "12:00", crew=[called(edda)])
    with time_machine.travel(at("2027-03-01 12:00"), tick=False):
        cancel(manager(), session.pk, session.version, "singer has a cold")
    session.refresh_from_db()
    assert session.cancelled
    assert session.cancelled_at == at("2027-03-01 12:00")
    assert not Claim.objects.of(session).exists()
    cancelled, booked = (entry.words for entry in session.history.all())
    assert (cancelled.splitlines()[0], booked) == ("Cancelled: singer has a cold", "Booked.")
    make_session(room, "10:00", "12:00", crew=[called(edda)])


def test_a_cancelled_session_can_t_be_changed_back_into_the_room() -> None:
    room = make_room()
    session = make_session(room, "10:00", "12:00")
    cancel(manager(), session.pk, 1, "rain")
    with pytest.raises(Stale):
        change(manager(), session.pk, 2, make_draft(room, "10:00", "12:00"))
    assert not Claim.objects.of(session).exists()


def test_the_same_form_sent_twice_books_once() -> None:
    room, key = make_room(), uuid4()
    first = book(manager(), make_draft(room, "10:00", "12:00"), key)
    again = book(manager(), make_draft(room, "10:00", "12:00"), key)
    assert first == again
    assert Session.objects.count() == 1


def test_only_a_manager_books_and_only_the_crew_s_roles_hand_over() -> None:
    room, tech = make_room(), make_person(Role.TECH)
    draft = make_draft(room, "10:00", "12:00")
    for role in (Role.ENGINEER, Role.ASSISTANT, Role.TECH):
        with pytest.raises(PermissionDenied, match="Only a manager can book"):
            book(make_person(role), draft)
    session = book(manager(), draft)
    with pytest.raises(PermissionDenied, match="enter times in and out"):
        hand_over(tech, session.pk, session.load_in, session.end)


def test_handing_over_keeps_the_hours_and_the_words() -> None:
    session = make_session(load_in="10:00", end="18:00")
    asa = make_person(Role.ASSISTANT)
    hand_over(asa, session.pk, at("2027-03-04 10:10"), at("2027-03-04 18:40"), "one boom bent")
    session.refresh_from_db()
    assert (session.worked, session.handover) == (
        at("2027-03-04 18:40") - at("2027-03-04 10:10"),
        "one boom bent",
    )
    entry = session.history.first()
    assert entry is not None
    assert (entry.by, entry.what) == (asa, "handed over")


def test_stock_is_counted_at_its_busiest_instant() -> None:
    stock = make_stock("short boom", 5)
    session = make_session()
    for start, end, quantity in [("10:00", "12:00", 3), ("11:00", "13:00", 1), ("12:00", "14:00", 4)]:
        Claim.objects.create(
            resource_id=stock.resource_id,
            starts=at(f"2027-03-04 {start}"),
            ends=at(f"2027-03-04 {end}"),
            purpose=Claim.Purpose.GEAR,
            exclusive=False,
            quantity=quantity,
            reason="Quartet",
            origin=session,
        )
    assert counts_free([stock.resource_id], span("2027-03-04 10:00", "2027-03-04 12:00")) == {
        stock.resource_id: 1
    }
    assert counts_free([stock.resource_id], span("2027-03-04 11:30", "2027-03-04 12:30")) == {
        stock.resource_id: 0
    }
    assert counts_free([stock.resource_id], span("2027-03-04 13:00", "2027-03-04 20:00")) == {
        stock.resource_id: 1
    }
