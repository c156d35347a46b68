"""The booking form: kinds, spare time, lockouts, rooms beside, wanted people and wanted gear."""

from __future__ import annotations

from datetime import time
from typing import Any

import pytest
from django.test import Client as Browser

from bookings.models import Client, Job, Session, SessionKind
from studio.models import Claim, Role, Room
from tests.bookings.cast import (
    called,
    filled_in,
    make_job,
    make_session,
    page_fields,
    refused,
    said,
    sent_back,
)
from tests.house import at, make_mic, make_person, make_preamp, make_room, make_site, make_unit

pytestmark = pytest.mark.django_db


@pytest.fixture
def hall() -> Room:
    return make_room("Weaving Hall", setup_minutes=60, turnaround_minutes=30)


def offered(desk: Browser, name: str) -> list[str]:
    return [str(label) for _, label in desk.get("/sessions/new").context["form"].fields[name].choices]


def test_the_site_s_own_kinds_are_offered_and_withdrawn_ones_are_not(desk: Browser, hall: Room) -> None:
    SessionKind.objects.filter(name="tour").update(offered=False)
    SessionKind.objects.create(site=make_site("Quay House"), name="foley")
    kinds = offered(desk, "kind")
    assert "mix" in kinds
    assert "foley (Quay House)" in kinds
    assert "tour" not in kinds
    assert "tour (Quay House)" in kinds


def test_a_kind_means_what_the_list_of_the_room_s_site_says(desk: Browser, hall: Room) -> None:
    quay = make_site("Quay House", "Europe/Lisbon")
    desk.post("/sessions/new", filled_in(make_room("Pier Room", quay), kind="mix"))
    assert Session.objects.get().kind == SessionKind.objects.get(site=quay, name="mix")


def test_a_kind_of_another_site_is_refused_and_the_own_ones_are_named(desk: Browser, hall: Room) -> None:
    SessionKind.objects.create(site=make_site("Quay House"), name="foley")
    refused(desk, "Mill Lane has no “foley” on its list. It has: tracking, overdub,", kind="foley")
    refused(desk, "“skiing” is on no site's list (any more). Choose another kind.", kind="skiing")


def test_a_withdrawn_kind_stays_with_the_session_that_has_it(desk: Browser, hall: Room) -> None:
    session = make_session(hall, kind=SessionKind.objects.get(name="tour"))
    SessionKind.objects.filter(name="tour").update(offered=False)
    assert sent_back(desk, session, note="other").status_code == 302
    assert Session.objects.get().kind.name == "tour"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("kind", "title", "purpose"),
    [
        ("closed", "Closures", Claim.Purpose.CLOSURE),
        ("tuning or maintenance", "Upkeep", Claim.Purpose.UPKEEP),
    ],
)
def test_closures_and_upkeep_need_no_job_and_take_the_room_without_setup(
    desk: Browser, hall: Room, kind: str, title: str, purpose: str
) -> None:
    for day in ("04", "05"):
        typed = filled_in(hall, job="", kind=kind, load_in=f"2027-03-{day}T09:00", downbeat=f"2027-03-{day}T09:00",
                          end=f"2027-03-{day}T12:00", form_key="")  # fmt: skip
        assert desk.post("/sessions/new", typed).status_code == 302
    assert {(s.job.client.is_house, s.job.title) for s in Session.objects.all()} == {(True, title)}
    assert (
        Job.objects.filter(client__is_house=True).count(),
        Client.objects.filter(is_house=True).count(),
    ) == (1, 1)
    claims = Claim.objects.filter(resource=hall.resource_id)
    assert {claim.purpose for claim in claims} == {purpose}


def test_a_client_called_like_the_house_stays_a_client(desk: Browser, hall: Room) -> None:
    Client.objects.create(name="The house")
    desk.post("/sessions/new", filled_in(hall, job="", kind="closed"))
    assert Session.objects.get().job.client.name == "The house (own work)"
    assert not Client.objects.get(name="The house").is_house


def test_a_session_with_a_client_can_not_stand_on_the_house_s_job(desk: Browser, hall: Room) -> None:
    desk.post("/sessions/new", filled_in(hall, job="", kind="closed"))
    session = Session.objects.get()
    page = sent_back(desk, session, kind="mix")
    assert "“Closures” is the house's own job, for upkeep and closures. Choose whose session it is." in said(
        page
    )
    assert "The house: Closures" not in offered(desk, "job")


def test_a_room_closed_for_ten_days_is_one_booking(desk: Browser, hall: Room) -> None:
    desk.post("/sessions/new", filled_in(hall, job="", kind="closed", end="2027-03-14T18:00"))
    assert Session.objects.get().end == at("2027-03-14 18:00")


def test_spare_time_is_kept_after_the_end_and_shown(desk: Browser, hall: Room) -> None:
    asked = desk.post("/sessions/check", filled_in(hall, spare_minutes="45"))
    assert "with setup, 45 min of spare time and turnaround" in said(asked)
    desk.post("/sessions/new", filled_in(hall, spare_minutes="45"))
    session = Session.objects.get()
    assert (session.spare_until, session.clear_at) == (at("2027-03-04 19:45"), at("2027-03-04 20:15"))


LOCKOUT = {"end": "2027-03-08T18:00", "day_from": "09:00", "day_to": "21:00"}


def test_a_lockout_of_several_days_is_booked_with_the_hours_of_each_day(desk: Browser, hall: Room) -> None:
    asked = said(desk.post("/sessions/check", filled_in(hall, **LOCKOUT)))
    assert "56 h 40 min are booked on 5 days; the room stays set between them" in asked
    desk.post("/sessions/new", filled_in(hall, **LOCKOUT))
    session = Session.objects.get()
    assert (session.day_from, session.day_to) == (time(9), time(21))
    before = Session.objects.values().get()
    sent_back(desk, session)
    after = Session.objects.values().get()
    assert {name for name in before if before[name] != after[name]} <= {"version", "changed_at"}


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"day_to": ""}, "Give both hours of the day for a lockout, or neither."),
        ({"day_from": ""}, "Give both hours of the day for a lockout, or neither."),
        ({"day_from": "nine"}, "Write the hour like 10:00."),
        ({"day_to": "09:00"}, "That is day and night. Give two different hours, or leave both empty."),
        ({"end": "2027-03-04T20:00"}, "All of it lies within one day: leave the hours of each day empty."),
        (
            {"day_from": "16:00"},
            "The load-in (Thu 4 March, 09:20) is far from the hours of each day, 16:00 to 21:00.",
        ),
        (
            {"load_in": "2027-03-04T21:30", "downbeat": "2027-03-04T21:30"},
            "The load-in (Thu 4 March, 21:30) is far from the hours of each day, 09:00 to 21:00.",
        ),
        (
            {"end": "2027-03-08T02:00"},
            "The end (Mon 8 March, 02:00) is far from the hours of each day, 09:00 to 21:00.",
        ),
        (
            {"downbeat": "2027-03-04T23:00"},
            "The downbeat (Thu 4 March, 23:00) isn't within the first day's hours, 09:00 to 21:00.",
        ),
        (
            {"end": "2027-05-30T18:00"},
            "One lockout or closure holds at most 1440 h: check the date, or book day by day.",
        ),
    ],
)
def test_hours_of_a_lockout_that_make_no_sense_are_told(
    desk: Browser, hall: Room, changed: dict[str, Any], sentence: str
) -> None:
    refused(desk, sentence, **(LOCKOUT | changed))


def test_a_long_session_is_told_of_lockouts(desk: Browser, hall: Room) -> None:
    refused(desk, "or give the hours of each day", end="2027-03-21T01:20")


def test_hours_that_a_clock_change_swallows_do_no_harm(desk: Browser, hall: Room) -> None:
    """28 March 2027, 02:00 to 03:00 doesn't exist in Berlin (tzdata 2026, europe: rule EU)."""
    typed = filled_in(
        hall,
        load_in="2027-03-27T02:10",
        downbeat="2027-03-27T02:10",
        end="2027-03-29T03:00",
        day_from="02:00",
        day_to="03:00",
    )
    assert desk.post("/sessions/new", typed).status_code == 302
    assert len(Session.objects.get().days) == 2


def test_a_session_in_two_rooms_takes_both_and_both_rooms_parts(desk: Browser, hall: Room) -> None:
    machines, booth = make_room("Machine room", bookable=False), make_room("Booth")
    hall.parts.set([machines])
    loom = make_room("Loom Room", parts=[booth])
    assert desk.post("/sessions/new", filled_in(hall, beside=[loom.pk])).status_code == 302
    session = Session.objects.get()
    assert {claim.resource.name for claim in session.claims.all()} == {
        "Weaving Hall",
        "Machine room",
        "Loom Room",
        "Booth",
    }
    assert sorted(page_fields(desk, session)["beside"]) == [str(loom.pk)]


def test_rooms_beside_that_make_no_sense_get_a_sentence(desk: Browser, hall: Room) -> None:
    booth = make_room("Booth")
    hall.parts.set([booth])
    pier = make_room("Pier Room", make_site("Quay House"))
    refused(desk, "Weaving Hall is the session's room already.", room=hall.pk, beside=[hall.pk])
    refused(desk, "Booth is a part of Weaving Hall and taken with it.", room=hall.pk, beside=[booth.pk])
    instead = "Booth is a part of Weaving Hall and taken with it. Choose Weaving Hall as the room instead."
    refused(desk, instead, room=booth.pk, beside=[hall.pk])
    loft = make_room("Loft")
    both = [hall.pk, booth.pk]
    refused(desk, "Booth is a part of Weaving Hall and taken with it. Take it out", room=loft.pk, beside=both)
    refused(
        desk,
        "Pier Room is at Quay House, Weaving Hall at Mill Lane: book two sessions.",
        room=hall.pk,
        beside=[pier.pk],
    )
    refused(desk, "That room isn't one of the house's.", room=hall.pk, beside=["9" * 25])


def test_what_rooms_share_is_not_offered_and_is_refused(desk: Browser, hall: Room) -> None:
    machines = make_room("Machine room", bookable=False)
    assert not [label for label in offered(desk, "room") + offered(desk, "beside") if "Machine room" in label]
    sentence = "Machine room is shared by rooms and can't be booked by itself"
    refused(desk, sentence, room=machines.pk)
    refused(desk, "That room isn't one of the house's.", room=hall.pk, beside=[machines.pk])


def test_who_is_only_wanted_is_not_taken_and_can_be_assigned_later(desk: Browser, hall: Room) -> None:
    edda = make_person(Role.ENGINEER, name="Edda")
    make_session(make_room("Kiln"), "09:00", "20:00", crew=[called(edda)], title="Drums")
    asked = said(desk.post("/sessions/check", filled_in(hall, wanted_engineers=[edda.pk])))
    assert "Nothing is in the way." in asked
    assert "asked for, not free: Edda, wanted: called, “Drums”, Thu 4 March, 09:00 to 20:00" in asked
    desk.post("/sessions/new", filled_in(hall, wanted_engineers=[edda.pk]))
    session = Session.objects.get(room=hall)
    assert [(c.person, c.assigned) for c in session.crew.all()] == [(edda, False)]
    page = sent_back(desk, session, engineers=[edda.pk], wanted_engineers=[])
    assert "Edda is taken: “Drums”" in said(page)


def test_a_person_assigned_and_wanted_is_a_sentence(desk: Browser, hall: Room) -> None:
    edda = make_person(Role.ENGINEER, name="Edda")
    sentence = "Edda is down as engineer and as engineer only wanted. Take one of the two out."
    refused(desk, sentence, engineers=[edda.pk], wanted_engineers=[edda.pk])


def test_gear_is_wanted_by_tag_and_the_answer_says_whether_it_works_and_is_free(
    desk: Browser, hall: Room
) -> None:
    mic, rack = make_mic("RB-04", "ribbon"), make_preamp("Oak")
    typed = filled_in(hall, wanted_gear="rb4\r\n\r\noak\r\n")
    asked = said(desk.post("/sessions/check", typed))
    assert "RB-04, Alder & Sons" in asked
    assert ": works; free" in asked
    desk.post("/sessions/new", typed)
    session = Session.objects.get()
    assert set(session.wanted_units.all()) == {mic, rack}
    assert page_fields(desk, session)["wanted_gear"] == ["Oak\r\nRB-04"]


def test_words_that_may_mean_several_are_asked_about_and_never_guessed(desk: Browser, hall: Room) -> None:
    first, second = make_mic("RB-01", "ribbon"), make_mic("RB-02", "ribbon")
    typed = filled_in(hall, wanted_gear="ribbon\nribbon")
    page = desk.post("/sessions/check", typed)
    assert "Which one is “ribbon”?" in said(page)
    refused(
        desk,
        "Say which one is meant by “ribbon”",
        **{k: v for k, v in typed.items() if k != "room"},
        room=hall.pk,
    )
    one, two = [question.name for question in page.context["form"].questions_of_gear()]
    refused(desk, "RB-01 is wanted twice", wanted_gear=typed["wanted_gear"], **{one: first.pk, two: first.pk})
    refused(desk, "Say which one is meant", wanted_gear=typed["wanted_gear"], **{one: first.pk, two: 99999})
    assert desk.post("/sessions/new", typed | {one: first.pk, two: second.pk}).status_code == 302
    assert set(Session.objects.get().wanted_units.all()) == {first, second}


def test_a_single_unit_that_is_only_like_the_words_is_asked_about_too(desk: Browser, hall: Room) -> None:
    make_mic("RB-01", "ribbon")
    refused(desk, "Say which one is meant by “ribon”", wanted_gear="ribon")


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("hurdy-gurdy", "The house has nothing like “hurdy-gurdy”."),
        ("COMP-1\ncomp-1", "COMP-1 is wanted twice (“comp-1”). Take one of the two out."),
        ("x\n" * 31, "At most 30 lines fit here; there are 31."),
        ("COMP-1\x07", "(U+0007"),
        ("🎸", "The house has nothing like “🎸”."),
    ],
)
def test_gear_that_makes_no_sense_gets_a_sentence(
    desk: Browser, hall: Room, typed: str, sentence: str
) -> None:
    make_unit("COMP-1")
    refused(desk, sentence, wanted_gear=typed)


@pytest.mark.parametrize("name", ["👩‍🎤 Zoë", "נועה", "مريم"])
def test_people_and_clients_with_emoji_or_right_to_left_names_are_kept_and_shown(
    desk: Browser, hall: Room, name: str
) -> None:
    person = make_person(Role.ENGINEER, name=name)
    typed = filled_in(hall, job="", new_client=name, new_job="Mixes", engineers=[person.pk])
    assert name in said(desk.post("/sessions/check", typed))
    page = desk.post("/sessions/new", typed, follow=True)
    assert Session.objects.get().job.client.name == name
    assert name in said(page)


def test_after_the_back_button_nothing_is_booked_twice_and_nothing_typed_since_is_lost(
    desk: Browser, hall: Room
) -> None:
    """Field cases F62 and F64: the form's key is the same, whatever was changed in it before it is sent again."""
    typed = filled_in(hall, job="", new_client="Larkspur", new_job="Mixes")
    first = desk.post("/sessions/new", typed)
    assert desk.post("/sessions/new", typed)["Location"] == first["Location"]
    page = desk.post("/sessions/new", typed | {"note": "typed after going back"})
    assert "this form was sent before and has booked “ Quartet and harmonium ”" in said(page)
    assert page.context["form"]["note"].value() == "typed after going back"
    assert (Session.objects.count(), Session.objects.get().note) == (1, "")
    assert 'action="/sessions/' in page.content.decode()
    again = {name: page.context["form"].data.getlist(name) for name in page.context["form"].data}
    assert desk.post(f"{first['Location']}/change", again).status_code == 302
    assert (Session.objects.count(), Session.objects.get().note) == (1, "typed after going back")
    assert Job.objects.count() == 2  # the cast's own, and that of Larkspur, opened once


def test_a_form_whose_session_was_cancelled_since_books_anew_only_when_pressed_again(
    desk: Browser, hall: Room
) -> None:
    typed = filled_in(hall)
    first = desk.post("/sessions/new", typed)
    desk.post(f"{first['Location']}/cancel", {"because": "rain", "version": 1, "by_whom": "client"})
    assert Session.objects.get().cancelled
    page = desk.post("/sessions/new", typed)
    assert "was cancelled in the meantime" in said(page)
    form = page.context["form"]
    assert desk.post("/sessions/new", {n: form.data.getlist(n) for n in form.data}).status_code == 302
    assert Session.objects.standing().count() == 1


def test_two_browsers_meet_over_the_new_fields_too(desk: Browser, hall: Room) -> None:
    """Field case F44."""
    make_unit("COMP-1")
    loom = make_room("Loom Room")
    session = make_session(hall, "10:00", "18:00")
    second = page_fields(desk, session) | {"wanted_gear": "COMP-1"}
    sent_back(desk, session, beside=[loom.pk], spare_minutes="30")
    page = desk.post(f"/sessions/{session.pk}/change", second)
    assert "this session was changed while you were typing" in said(page)
    form = page.context["form"]
    assert form["wanted_gear"].value() == "COMP-1"
    assert form["beside"].value() == [str(loom.pk)]
    again = {name: form.data.getlist(name) for name in form.data}
    assert desk.post(f"/sessions/{session.pk}/change", again).status_code == 302
    session = Session.objects.with_all().get()
    assert (len(session.beside.all()), session.wanted_units.count()) == (1, 1)
    assert session.spare_until == at("2027-03-04 18:30")


def test_a_job_that_was_chosen_stays_with_upkeep_for_a_client(desk: Browser, hall: Room) -> None:
    job = make_job("Larkspur", "Their piano")
    desk.post("/sessions/new", filled_in(hall, job=job.pk, kind="tuning or maintenance"))
    assert Session.objects.get().job == job
