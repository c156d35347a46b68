"""Invitations: who is told what, once, and how the message reads."""

from __future__ import annotations

import email
import email.policy
from dataclasses import replace
from datetime import UTC, time, timedelta
from typing import Any

import pytest
from django.core import mail
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from bookings.booking import cancel, change
from bookings.drafts import as_draft
from bookings.holds import confirm
from bookings.invitations.chasing import chase_the_silent, chase_times
from bookings.invitations.message import Call, Party, called_off, parameter, request, told
from bookings.invitations.replies import take
from bookings.models import CallLetter, Session
from bookings.needs import needs_of
from bookings.series.booking import repeat
from bookings.wakeups import keep_calls
from studio.models import Person, Role
from tests.bookings.call_cast import NOW, anna, calendar_of, clock, fresh, reply, sent
from tests.bookings.cast import browser_of, called, make_draft, make_session, manager, said
from tests.house import BERLIN, at, make_person, make_room
from tests.outside.calendar_reading import read

__all__ = ["anna", "clock"]
pytestmark = pytest.mark.usefixtures("clock")
Kind, State = CallLetter.Kind, CallLetter.State


def test_an_invitation_is_a_calendar_part_beside_the_same_in_words(anna: Person, clock: Any) -> None:
    """Field case F10; RFC 6047 section 2.4, RFC 5546 section 3.2.2."""
    session = make_session(make_room("Weaving Hall"), "10:00", "18:00", crew=[called(anna)])
    (message,) = sent(clock)
    assert message.get_content_type() == "multipart/alternative"
    assert message["To"] == "anna@example.org"
    plain, calendar = list(message.iter_parts())
    assert "Called as engineer: Thu 4 March 2027, 10:00 to 18:00" in plain.get_content()
    assert calendar["Content-Type"].params["method"] == "REQUEST"
    assert calendar["Content-Type"].params["charset"].upper() == "UTF-8"
    whole = calendar_of(message)
    assert whole["METHOD"] == "REQUEST"
    event = whole.events[0]
    assert event["UID"] == f"{session.uid}@deskhand"
    assert event["ATTENDEE"] == "mailto:anna@example.org"
    assert event["ATTENDEE"].params["RSVP"] == "TRUE"
    assert event["ATTENDEE"].params["PARTSTAT"] == "NEEDS-ACTION"
    assert str(event["ORGANIZER"]) == "mailto:deskhand@localhost"
    assert event["DTSTART"].dt == at("2027-03-04 10:00")
    assert sent(clock) == []


def test_a_slip_put_right_at_once_goes_out_once_as_it_stands_in_the_end(anna: Person, clock: Any) -> None:
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    clock.shift(timedelta(seconds=30))
    moved = make_draft(session.room, "11:00", "18:00", crew=[called(anna)])
    change(manager(), session.pk, session.version, moved)
    (message,) = sent(clock)
    assert calendar_of(message).events[0]["DTSTART"].dt == at("2027-03-04 11:00")


def test_a_move_raises_the_sequence_and_a_note_tells_nobody_anything(anna: Person, clock: Any) -> None:
    """Field case F08; RFC 5545 section 3.8.7.4, RFC 5546 section 2.1.4."""
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    (first,) = sent(clock)
    take(reply(session, anna))
    assert fresh(session).sequence == session.sequence
    session = change(
        manager(), session.pk, 1, make_draft(session.room, "11:00", "18:00", crew=[called(anna)])
    )
    (second,) = sent(clock)
    one, two = (calendar_of(message).events[0] for message in (first, second))
    assert one["UID"] == two["UID"]
    assert int(two["SEQUENCE"]) > int(one["SEQUENCE"])
    assert two["DTSTAMP"].dt > one["DTSTAMP"].dt
    noted = make_draft(session.room, "11:00", "18:00", crew=[called(anna)], note="Key under the mat")
    change(manager(), session.pk, session.version, noted)
    assert sent(clock) == []


def test_whoever_is_taken_off_or_cancelled_is_told_if_they_were_told_before(anna: Person, clock: Any) -> None:
    otis = make_person(Role.ASSISTANT, name="Otis", email="otis@example.org")
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna), called(otis, Role.ASSISTANT)])
    assert len(sent(clock)) == 2
    session = change(
        manager(), session.pk, 1, make_draft(session.room, "10:00", "18:00", crew=[called(anna)])
    )
    (off,) = sent(clock)
    assert off["To"] == "otis@example.org"
    event = calendar_of(off).events[0]
    assert (calendar_of(off)["METHOD"], event["STATUS"]) == ("CANCEL", "CANCELLED")
    cancel(manager(), session.pk, session.version, "ill")
    (gone,) = sent(clock)
    assert gone["To"] == "anna@example.org"
    assert int(calendar_of(gone).events[0]["SEQUENCE"]) > session.sequence


def test_who_was_never_told_is_not_told_that_it_is_off(anna: Person, clock: Any) -> None:
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    cancel(manager(), session.pk, session.version, "ill")
    assert sent(clock) == []


def test_a_hold_invites_nobody_until_it_is_confirmed(anna: Person, clock: Any) -> None:
    hold = make_session(make_room(), "10:00", "18:00", crew=[called(anna)], status=Session.Status.HELD)
    assert sent(clock) == []
    confirm(manager(), hold.pk, hold.version)
    assert len(sent(clock)) == 1


def test_the_silent_are_asked_once_more_after_two_days_and_once_the_day_before(
    anna: Person, clock: Any
) -> None:
    session = make_session(make_room(), "2027-03-08 10:00", "2027-03-08 18:00", crew=[called(anna)])
    sent(clock)
    assert chase_the_silent() == 0
    clock.shift(timedelta(hours=49))
    assert chase_the_silent() == 1
    assert chase_the_silent() == 0
    (letter,) = sent(clock)
    assert "We have no answer from you yet." in letter.get_body().get_content()
    clock.move_to(at("2027-03-07 12:00"))
    assert chase_the_silent() == 1
    assert chase_the_silent() == 0
    take(reply(session, anna))
    assert sent(clock) == [], "who has answered since isn't asked"


def test_what_is_open_takes_as_many_queries_for_many_sessions_as_for_few(anna: Person) -> None:
    def queries() -> int:
        found = list(Session.objects.with_all())
        with CaptureQueriesContext(connection) as captured:
            needs_of(found, timezone.now())
        return len(captured)

    make_session(make_room("Room 0"), crew=[called(anna)])
    few = queries()
    for number in range(1, 6):
        make_session(make_room(f"Room {number}"), crew=[called(make_person(Role.ENGINEER))])
    assert queries() == few


names = st.text(st.characters(blacklist_categories=["Cs"]), max_size=60)


@settings(max_examples=80, deadline=None)
@given(
    name=names,
    title=names,
    address=st.emails(),
    zone=st.sampled_from(
        ["Europe/Berlin", "Australia/Lord_Howe", "America/St_Johns", "Etc/UTC", "Asia/Kathmandu"]
    ),
    start=st.datetimes(
        at("2026-01-01 00:00").replace(tzinfo=None), at("2030-12-01 00:00").replace(tzinfo=None)
    ),
    hours=st.integers(1, 30),
)
def test_whatever_names_and_zones_the_message_is_read_strictly(
    name: str, title: str, address: str, zone: str, start: Any, hours: int
) -> None:
    """Field cases F01, F03, F11, F13: RFC 5545 section 3.1 and 3.2, RFC 6868."""
    begun = start.replace(tzinfo=UTC, second=0, microsecond=0)
    call = Call(
        uid="6a0c1f6e-7a2f-4a0d-9a50-2f0f4c1f2a11@deskhand",
        sequence=3,
        start=begun,
        end=begun + timedelta(hours=hours),
        zone=zone,
        summary=title,
        location="Hall, Mill Lane",
        description=f"{title}\n{name}",
        organiser=Party("Deskhand", "desk@example.org"),
        attendee=Party(name, address),
        stamp=NOW,
    )
    octets = request(call).encode()
    whole = read(octets)
    assert whole.calendar.one("METHOD") == "REQUEST"
    (event,) = whole.events
    assert whole.span(event) == (begun, begun + timedelta(hours=hours))
    assert whole.calendar.inside("VTIMEZONE") or all("TZID" not in given for _, given, _ in event.lines)
    seen = parameter(name)[1:-1].replace("^n", "\n").replace("^'", '"').replace("^^", "^")
    read_name = Calendar.from_ical(octets).events[0]["ATTENDEE"].params.get("CN", "")
    assert str(read_name).strip() == seen.strip()
    (off,) = read(called_off(octets.decode(), 4, NOW).encode()).events
    assert (off.one("SEQUENCE"), off.one("STATUS")) == ("4", "CANCELLED")
    assert whole.span(event) == read(called_off(octets.decode(), 4, NOW).encode()).span(off)
    assert told(octets.decode(), "SUMMARY") == event.text("SUMMARY")


def test_a_name_with_quotes_and_breaks_is_written_as_rfc_6868_has_it() -> None:
    assert parameter('Ruiz, Ana "Nano": night') == "\"Ruiz, Ana ^'Nano^': night\""
    assert parameter("a^b\nc") == '"a^^b^nc"'


def test_letters_are_rows_that_go_out_once_however_often_they_are_written(anna: Person, clock: Any) -> None:
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    for _ in range(3):
        session = change(manager(), session.pk, session.version, as_draft(fresh(session)))
    assert CallLetter.objects.filter(kind=Kind.REQUEST).count() == 1
    assert len(sent(clock)) == 1
    assert CallLetter.objects.get().state == State.SENT


def moved(session: Session, load_in: str, end: str, **fields: Any) -> Session:
    return change(manager(), session.pk, session.version, make_draft(session.room, load_in, end, **fields))


def test_whoever_knows_an_older_time_hears_that_it_is_off_past_an_unsent_change(
    anna: Person, clock: Any
) -> None:
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    sent(clock)
    session = moved(session, "11:00", "18:00", crew=[called(anna)])
    moved(session, "11:00", "18:00")
    (off,) = sent(clock)
    event = calendar_of(off).events[0]
    assert (event["STATUS"], event["DTSTART"].dt) == ("CANCELLED", at("2027-03-04 10:00"))
    assert off["Subject"] == "Off: Quartet, Thu 4 March, 10:00"
    assert "Called as engineer: Thu 4 March 2027, 10:00 to 18:00" in off.get_body().get_content()


def test_another_downbeat_is_told_and_the_answer_to_the_same_hours_stays(anna: Person, clock: Any) -> None:
    """RFC 5546 section 2.1.5: an answer is for the hours that were asked for."""
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    sent(clock)
    take(reply(session, anna))
    session = moved(session, "10:00", "18:00", downbeat="11:00", crew=[called(anna)])
    (message,) = sent(clock)
    assert message["Subject"].startswith("Changed: Quartet, Thu 4 March, 10:00")
    assert "Downbeat: Thu 4 March 2027, 11:00" in message.get_body().get_content()
    attendee = calendar_of(message).events[0]["ATTENDEE"]
    assert (attendee.params["PARTSTAT"], attendee.params["RSVP"]) == ("ACCEPTED", "TRUE")
    (words,) = take(reply(session, anna, "TENTATIVE", sequence=session.sequence - 1))
    assert words.taken, "the older letter asked for the same hours in the same room"


def test_somebody_who_is_only_wanted_is_invited_once_they_are_assigned(anna: Person, clock: Any) -> None:
    wanted = replace(called(anna), assigned=False)
    session = make_session(make_room(), "10:00", "18:00", crew=[wanted])
    assert sent(clock) == []
    session = moved(session, "10:00", "18:00", crew=[called(anna)])
    assert len(sent(clock)) == 1
    moved(session, "10:00", "18:00", crew=[wanted])
    (off,) = sent(clock)
    assert calendar_of(off)["METHOD"] == "CANCEL"


def test_an_assistant_reads_that_setup_is_inside_the_call(clock: Any, db: None) -> None:
    otis = make_person(Role.ASSISTANT, name="Otis", email="otis@example.org")
    make_session(make_room(), "10:00", "18:00", setup_minutes=60, crew=[called(otis, Role.ASSISTANT)])
    (message,) = sent(clock)
    words = message.get_body().get_content()
    assert "Called as assistant: Thu 4 March 2027, 09:00 to 18:00" in words
    assert "Setup from Thu 4 March 2027, 09:00 until load-in is inside the call." in words
    assert calendar_of(message).events[0]["DESCRIPTION"] in words.replace("\r\n", "\n")


def test_a_year_of_tuesdays_is_not_fifty_letters_on_one_day(anna: Person, clock: Any) -> None:
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    sent(clock)
    repeat(manager(), session.pk, session.version, "FREQ=WEEKLY;COUNT=12", ())
    told_now = len(sent(clock))
    assert Session.objects.count() == 12
    assert CallLetter.objects.filter(state=State.WAITING).count() == 11 - told_now
    assert told_now == 3, "those within four weeks"
    assert len(sent(clock, timedelta(days=7))) == 1


def test_without_an_address_nobody_is_written_to_and_the_page_says_so(clock: Any, db: None) -> None:
    session = make_session(make_room(), crew=[called(make_person(Role.ENGINEER, name="Ida", email=""))])
    assert sent(clock) == []
    assert "no answer has no e-mail address: tell them yourself" in said(
        browser_of(manager()).get(f"/sessions/{session.pk}")
    )


@pytest.mark.parametrize(
    ("asked", "call", "expected"),
    [
        ("2027-03-01 12:00", "2027-03-10 10:00", ["2027-03-03 12:00", "2027-03-09 10:00"]),
        ("2027-03-01 12:00", "2027-03-04 10:00", ["2027-03-03 10:00"]),  # the first falls on the eve
        ("2027-03-03 15:00", "2027-03-04 10:00", []),  # invited on the eve itself
        ("2027-03-03 15:00", "2027-03-06 10:00", ["2027-03-05 10:00"]),
        ("2027-03-27 08:00", "2027-03-29 00:30", ["2027-03-28 10:00"]),  # the clocks go forward on the eve
    ],
)
def test_when_the_silent_are_asked_again(asked: str, call: str, expected: list[str]) -> None:
    """The house's rule: 48 hours after the invitation, and when the office opens on the day before."""
    times = chase_times(at(asked), at(call), timedelta(hours=48), time(10), BERLIN)
    assert times == [at(each) for each in expected]


def test_a_chase_has_the_answer_buttons_of_the_invitation(anna: Person, clock: Any) -> None:
    make_session(make_room(), "2027-03-08 10:00", "2027-03-08 18:00", crew=[called(anna)])
    (first,) = sent(clock)
    clock.shift(timedelta(hours=49))
    keep_calls()
    keep_calls()
    (row,) = CallLetter.objects.filter(kind=Kind.CHASE)
    assert row.state == State.SENT
    message = email.message_from_bytes(mail.outbox[-1].message().as_bytes(), policy=email.policy.default)
    assert message["Subject"] == "Will you come? Quartet, Mon 8 March, 10:00"
    assert calendar_of(message).to_ical() == calendar_of(first).to_ical()
