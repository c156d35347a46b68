"""Answers to invitations: taken only if they are what they say, from mail, files and pages."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.mail import EmailMultiAlternatives
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st

from bookings.booking import cancel, change
from bookings.invitations.replies import take
from bookings.models import Crew, Session
from bookings.needs import needs_of
from studio.models import Person, Role
from tests.bookings.call_cast import NOW, anna, clock, fresh, mailed, reply, sent
from tests.bookings.cast import browser_of, called, make_draft, make_session, manager, said
from tests.house import at, make_person, make_room

__all__ = ["anna", "clock"]
pytestmark = pytest.mark.usefixtures("clock")


def test_an_answer_is_entered_and_a_move_forgets_it(anna: Person, clock: Any) -> None:
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    sent(clock)
    assert [told.taken for told in take(mailed(reply(session, anna), "Anna <ANNA@example.org>"))] == [True]
    assert session.crew.get().answer == Crew.Answer.ACCEPTED
    assert session.history.get(what="answered").words == "Anna Quist: accepted by e-mail."
    session = change(
        manager(), session.pk, 1, make_draft(session.room, "11:00", "18:00", crew=[called(anna)])
    )
    assert session.crew.get().answer == Crew.Answer.NONE
    sent(clock)
    (told,) = take(reply(session, anna, sequence=session.sequence - 1))
    assert (told.taken, "older time" in told.words) == (False, True)


REFUSED = [
    ({"uid": "somebody-else@example.org"}, "nothing that this house has sent"),
    ({"address": "mailto:eve@example.org"}, "isn't called"),
    ({"method": "COUNTER"}, "another time"),
    ({"method": "REQUEST"}, "no answer"),
    ({"partstat": "DELEGATED"}, "wants to send somebody else"),
    ({"partstat": "NEEDS-ACTION"}, "hasn't decided yet"),
]


@pytest.mark.parametrize(("changed", "words"), REFUSED)
def test_an_answer_that_is_not_what_it_says_changes_nothing(
    anna: Person, clock: Any, changed: dict[str, Any], words: str
) -> None:
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    sent(clock)
    (told,) = take(reply(session, anna, **changed))
    assert words in told.words
    assert not told.taken
    assert session.crew.get().answer == Crew.Answer.NONE


def test_an_answer_from_another_sender_is_not_believed(anna: Person, clock: Any) -> None:
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    sent(clock)
    (told,) = take(mailed(reply(session, anna), "eve@example.org"))
    assert "came from another address" in told.words
    (told,) = take(b"From: anna@example.org\r\n\r\nSee you!")
    assert "no calendar answer" in told.words
    (told,) = take(b"x" * 1_000_001)
    assert "too big" in told.words


@settings(max_examples=80, deadline=None)
@given(data=st.binary(max_size=400))
def test_no_bytes_at_all_make_an_error(data: bytes) -> None:
    for told in [
        *take(b"From: a@b\r\nContent-Type: text/calendar\r\n\r\n" + data),
        *take(data),
    ]:
        assert not told.taken


def test_a_later_answer_wins_and_an_earlier_one_that_comes_late_does_not(anna: Person, clock: Any) -> None:
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    sent(clock)
    earlier = reply(session, anna, "ACCEPTED")
    clock.shift(timedelta(minutes=5))
    take(reply(session, anna, "DECLINED"))
    (told,) = take(earlier)
    assert not told.taken
    assert session.crew.get().answer == Crew.Answer.DECLINED


def test_a_decline_is_an_open_point_and_the_manager_is_told_once(anna: Person, clock: Any) -> None:
    person = manager()
    person.email = "mara@example.org"
    person.save()
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    sent(clock)
    assert "no answer from Anna Quist" in needs_of([fresh(session)], timezone.now())[session.pk]
    take(reply(session, anna, "DECLINED"))
    take(reply(session, anna, "DECLINED"))
    (letter,) = sent(clock)
    assert letter["To"] == "mara@example.org"
    assert "Anna Quist has declined." in letter.get_body().get_content()
    assert "Anna Quist has declined" in needs_of([fresh(session)], timezone.now())[session.pk]


def test_people_answer_on_the_page_and_only_for_themselves(anna: Person, clock: Any) -> None:
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    crew = session.crew.get()
    own, other = browser_of(anna), browser_of(make_person(Role.ENGINEER))
    assert other.post(f"/calls/{crew.pk}/answer", {"answer": "accepted"}).status_code == 403
    page = own.post(f"/calls/{crew.pk}/answer", {"answer": "declined", "because": "on tour"}, follow=True)
    assert "Anna Quist: declined. “on tour”" in said(page)
    desk = browser_of(manager())
    desk.post(f"/calls/{crew.pk}/answer", {"answer": "accepted"})
    crew.refresh_from_db()
    assert crew.answer == Crew.Answer.ACCEPTED
    assert "Press accept, perhaps or decline." in said(desk.post(f"/calls/{crew.pk}/answer", {"answer": "x"}))


def test_an_answer_can_be_brought_as_a_file(anna: Person, clock: Any) -> None:
    session = make_session(make_room(), "10:00", "18:00", crew=[called(anna)])
    sent(clock)
    desk = browser_of(manager())
    for name, data in [("a.ics", reply(session, anna)), ("a.eml", mailed(reply(session, anna), anna.email))]:
        session.crew.update(answer=Crew.Answer.NONE, answered_at=None)
        page = desk.post("/replies", {"file": SimpleUploadedFile(name, data)})
        assert "Anna Quist: accepted" in said(page)
    assert "The file is empty." in said(desk.post("/replies", {"file": SimpleUploadedFile("a.ics", b"")}))
    assert "Choose the file." in said(desk.post("/replies"))


@pytest.fixture
def invited(anna: Person, clock: Any) -> Session:
    Person.objects.filter(pk=manager().pk).update(email="mara@example.org")
    session = make_session(make_room("Weaving Hall"), "10:00", "18:00", crew=[called(anna)])
    sent(clock)
    return session


def answer_of(session: Session) -> str:
    return session.crew.get().answer


def test_an_answer_to_what_was_never_sent_is_refused(invited: Session, anna: Person) -> None:
    (told,) = take(reply(invited, anna, sequence=invited.sequence + 1))
    assert "that was never sent" in told.words
    assert (told.taken, answer_of(invited)) == (False, "none")


def test_an_answer_to_an_old_time_stands_in_the_history_and_does_not_count(
    invited: Session, anna: Person, clock: Any
) -> None:
    """Field case F08; RFC 5546 section 2.1.5."""
    draft = make_draft(invited.room, "11:00", "18:00", crew=[called(anna)])
    session = change(manager(), invited.pk, invited.version, draft)
    (told,) = take(reply(session, anna, sequence=0))
    assert (told.taken, answer_of(session)) == (False, "none")
    assert session.history.first().words == "Anna Quist: accepted, to an older time. It doesn't count."


def test_another_time_or_somebody_else_is_told_to_the_managers_and_changes_nothing(
    invited: Session, anna: Person, clock: Any
) -> None:
    lines = b"DTSTART;TZID=Europe/Berlin:20270304T120000\r\nCOMMENT:train\\, late\r\nEND:VEVENT"
    counter = reply(invited, anna, method="COUNTER").replace(b"END:VEVENT", lines)
    (told,) = take(mailed(counter, anna.email))
    assert told.words.startswith("Anna Quist proposes another time: from Thu 4 March, 12:00. “train, late”")
    other = b'PARTSTAT=DELEGATED;DELEGATED-TO="mailto:bo@example.org"'
    (told,) = take(reply(invited, anna).replace(b"PARTSTAT=ACCEPTED", other))
    assert told.words.startswith("Anna Quist wants to send somebody else, bo@example.org.")
    assert answer_of(invited) == "none"
    letters = sent(clock)
    assert [letter["To"] for letter in letters] == ["mara@example.org"] * 2
    assert "proposes another time" in letters[0].get_content()


def test_whoever_is_named_as_writing_for_somebody_is_believed(invited: Session, anna: Person) -> None:
    """RFC 5545 section 3.2.18."""
    by_office = b'SENT-BY="mailto:office@example.org";PARTSTAT=ACCEPTED'
    (told,) = take(
        mailed(reply(invited, anna).replace(b"PARTSTAT=ACCEPTED", by_office), "office@example.org")
    )
    assert told.taken


def test_a_clock_that_is_ahead_does_not_keep_later_answers_out(
    invited: Session, anna: Person, clock: Any
) -> None:
    take(reply(invited, anna, stamp=timezone.now() + timedelta(days=1)))
    clock.shift(timedelta(minutes=1))
    take(reply(invited, anna, "DECLINED"))
    assert answer_of(invited) == "declined"


def test_the_managers_hear_of_a_decline_and_that_it_is_taken_back_but_not_of_their_own_entry(
    invited: Session, anna: Person, clock: Any
) -> None:
    noted = reply(invited, anna, "DECLINED").replace(b"END:VEVENT", b"COMMENT:ill\r\nEND:VEVENT")
    for _ in range(2):
        take(mailed(noted, anna.email))
    (letter,) = sent(clock)
    assert letter["Subject"].strip() == "Quartet: Anna Quist has declined. “ill”"
    take(reply(invited, anna))
    (letter,) = sent(clock)
    assert letter["Subject"].strip() == "Quartet: Anna Quist had declined and now says: accepted."
    call = invited.crew.get()
    browser_of(manager()).post(f"/calls/{call.pk}/answer", {"answer": "declined"})
    assert sent(clock) == []
    assert [entry.words for entry in invited.history.filter(what="answered")] == [
        "Anna Quist: declined.",
        "Anna Quist: accepted, by a file.",
        "Anna Quist: declined by e-mail. “ill”",
    ]


FORGIVEN = [
    lambda calendar: calendar.replace(b"\r\n", b"\n"),
    lambda calendar: b"\xef\xbb\xbf" + calendar,
    lambda calendar: calendar.replace(b"ATTENDEE", b"attendee").replace(b"METHOD:REPLY", b"method:reply"),
    lambda calendar: calendar.replace(b"DTSTAMP", b"X-DTSTAMP"),
    lambda calendar: calendar.replace(b"mailto:anna", b"MAILTO:Anna"),
    lambda calendar: calendar.replace(b'"Anna Quist"', b'"An\r\n na Q\xf6st"'),
    lambda calendar: calendar.replace(
        b"END:VEVENT", b"BEGIN:VALARM\r\nTRIGGER:x\r\nEND:VALARM\r\nEND:VEVENT"
    ),
    lambda calendar: calendar.removesuffix(b"END:VCALENDAR\r\n"),
]


@pytest.mark.parametrize("spoilt", FORGIVEN)
def test_what_does_no_harm_is_forgiven(invited: Session, anna: Person, spoilt: Any) -> None:
    (told,) = take(mailed(spoilt(reply(invited, anna)), anna.email))
    assert told.taken, told.words


def test_an_answer_twice_in_one_mail_counts_once(invited: Session, anna: Person) -> None:
    """Large mail programs send it as an alternative and once more as an attachment (common practice)."""
    message = EmailMultiAlternatives("Accepted", "Yes", anna.email, ["desk@example.org"])
    message.attach_alternative(reply(invited, anna).decode(), "text/calendar; method=REPLY")
    message.attach("invite.ics", reply(invited, anna), "application/ics")
    assert [told.taken for told in take(message.message().as_bytes())] == [True]
    assert invited.history.filter(what="answered").count() == 1


MAIL = (
    b"From: a@example.org\r\nContent-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\n"
    b"Content-Type: text/calendar; charset=utf-8; method=REPLY\r\nContent-Transfer-Encoding: base64\r\n\r\n"
    b"QkVHSU46VkNBTEVOREFS\r\n--b\r\nContent-Disposition: attachment; filename*=utf-8''x.ics\r\n\r\n"
    b"BEGIN:VCALENDAR\r\nMETHOD:REPLY\r\nBEGIN:VEVENT\r\nUID:1@deskhand\r\nSEQUENCE:1\r\nDTSTAMP:20270301T110000Z\r\n"
    b'ATTENDEE;PARTSTAT=ACCEPTED;CN="A":mailto:a@example.org\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n--b--\r\n'
)


@pytest.mark.django_db
@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_a_mail_that_was_damaged_anywhere_is_read_or_refused_in_a_sentence(data: st.DataObject) -> None:
    damaged = bytearray(MAIL)
    for _ in range(data.draw(st.integers(0, 6))):
        start = data.draw(st.integers(0, len(damaged)))
        damaged[start : start + data.draw(st.integers(0, 9))] = data.draw(st.binary(max_size=9))
    for told in take(bytes(damaged)):
        assert not told.taken
        assert told.words.endswith((".", ")."))


def test_an_answer_is_given_where_one_looks_and_leads_back_there(
    invited: Session, anna: Person, clock: Any
) -> None:
    call, own = invited.crew.get(), browser_of(anna)
    for page in (f"/people/{anna.pk}", "/day", f"/sessions/{invited.pk}"):
        assert "Accept" in said(own.get(page)), page
    answer = {"answer": "tentative", "back": "/day"}
    assert own.post(f"/calls/{call.pk}/answer", answer)["Location"] == "/day"
    away = {"answer": "accepted", "back": "https://evil.example/"}
    assert own.post(f"/calls/{call.pk}/answer", away)["Location"] == f"/sessions/{invited.pk}"
    assert "accepted since Mon 1 March, 12:03" in said(own.get(f"/sessions/{invited.pk}"))
    wrong = own.post(f"/calls/{call.pk}/answer", {"answer": "declined", "because": "x" * 201})
    assert (wrong.status_code, answer_of(invited)) == (422, "accepted")
    assert "x" * 201 in wrong.content.decode(), "what was typed is kept"
    assert own.get("/calls/999999/answer").status_code == 404


def test_what_is_over_or_cancelled_takes_no_answer(invited: Session, anna: Person, clock: Any) -> None:
    call, own = invited.crew.get(), browser_of(anna)
    clock.move_to(at("2027-03-05 09:00"))
    page = own.post(f"/calls/{call.pk}/answer", {"answer": "accepted"}, follow=True)
    assert "“Quartet” is over: an answer comes too late." in said(page)
    clock.move_to(NOW)
    cancel(manager(), invited.pk, invited.version, "ill")
    (told,) = take(reply(invited, anna))
    assert told.words == "“Quartet” is cancelled: no answer is needed any more."
    assert answer_of(invited) == "none"


def test_the_page_of_answers_lists_whoever_has_not_said_yes(invited: Session, anna: Person) -> None:
    desk = browser_of(manager())
    assert "Anna Quist , engineer Quartet , Weaving Hall" in said(desk.get("/replies"))
    desk.post(f"/calls/{invited.crew.get().pk}/answer", {"answer": "accepted"})
    assert "Everybody who is called has accepted." in said(desk.get("/replies"))
    assert browser_of(anna).get("/replies").status_code == 403
