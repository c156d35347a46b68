"""A person's own calendar becomes claims: at once, again without change, and never over a booking."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from bookings import wakeups
from bookings.booking import cancel
from bookings.busy import sources
from bookings.busy.fetching import Fetched, FetchProblem
from bookings.busy.sources import NotTaken, forget, import_busy, look, overlaps, subscribe
from bookings.models import BusySource
from studio.claims import Conflict, Wanted, take
from studio.models import Claim, Person, Role
from studio.spans import Span
from tests.bookings.calendars import calendar, event
from tests.bookings.cast import called, make_session, manager
from tests.house import at, make_person, make_site

pytestmark = pytest.mark.django_db
ADDRESS = "https://calendar.test.example/secret/ann.ics"


@pytest.fixture(autouse=True)
def march() -> object:
    with time_machine.travel("2027-03-01T09:00:00Z", tick=False) as clock:
        yield clock


@pytest.fixture
def ann() -> Person:
    return make_person(Role.ENGINEER, name="Ann", email="ann@test.example")


def day(start: str, end: str, *lines: str) -> list[str]:
    """Busy on 4 March 2027, on the clock in Berlin."""
    zone = "TZID=Europe/Berlin"
    return event(f"DTSTART;{zone}:20270304T{start}00", f"DTEND;{zone}:20270304T{end}00", *lines)


def taken(person: Person, *, firm: bool | None = None) -> list[tuple[str, str]]:
    claims = Claim.objects.filter(resource_id=person.resource_id, purpose=Claim.Purpose.BUSY)
    if firm is not None:
        claims = claims.filter(firm=firm)
    tz = sources.zone_of(person)
    return [
        (f"{c.starts.astimezone(tz):%m-%d %H:%M}", f"{c.ends.astimezone(tz):%m-%d %H:%M}")
        for c in claims.order_by("starts")
        if c.ends
    ]


class Server:
    """Stands in for the network: gives what it is told to, and notes what it is asked."""

    def __init__(self) -> None:
        self.answer: Fetched | FetchProblem = Fetched(calendar(day("1000", "1200")), "“one”", "")
        self.asked: list[tuple[str, str]] = []

    def __call__(self, address: str, etag: str, last_modified: str, *, allow_private: bool) -> Fetched:
        self.asked.append((address, etag))
        if isinstance(self.answer, FetchProblem):
            raise self.answer
        return self.answer


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch) -> Server:
    server = Server()
    monkeypatch.setattr(sources, "fetch", server)
    return server


def test_busy_hours_become_claims_that_join_where_they_touch(ann: Person) -> None:
    days = [day("1000", "1200"), day("1100", "1300"), day("1300", "1330"), day("2000", "2100")]
    import_busy(ann, ann, calendar(*days))
    assert taken(ann, firm=True) == [("03-04 10:00", "03-04 13:30"), ("03-04 20:00", "03-04 21:00")]


def test_nobody_is_booked_while_busy_and_the_message_says_why(ann: Person) -> None:
    import_busy(ann, ann, calendar(day("1000", "1200", "SUMMARY:A private matter")))
    with pytest.raises(Conflict) as refused:
        make_session(crew=[called(ann)], load_in="11:00", end="18:00")
    claim = refused.value.clashes[0].claim
    assert claim is not None
    assert claim.get_purpose_display() == "busy elsewhere"
    assert "private" not in claim.reason


def test_a_calendar_taken_again_changes_nothing_and_a_newer_one_replaces_it(ann: Person) -> None:
    import_busy(ann, ann, calendar(day("1000", "1200")))
    before = list(Claim.objects.values_list("pk", "starts"))
    import_busy(ann, ann, calendar(day("1000", "1200")))
    assert list(Claim.objects.values_list("pk", "starts")) == before
    import_busy(ann, ann, calendar(day("1500", "1600")))
    assert taken(ann) == [("03-04 15:00", "03-04 16:00")]
    assert BusySource.objects.count() == 1


def test_two_calendars_of_one_person_stand_beside_each_other(ann: Person) -> None:
    import_busy(ann, ann, calendar(day("1000", "1200")), "work.ics")
    import_busy(ann, ann, calendar(day("1100", "1300")), "home.ics")
    assert taken(ann, firm=True) == [("03-04 10:00", "03-04 12:00"), ("03-04 12:00", "03-04 13:00")]
    forget(ann, BusySource.objects.get(filename="home.ics").pk)
    assert taken(ann) == [("03-04 10:00", "03-04 12:00")]


def test_a_booking_stands_and_what_lies_in_it_is_told(ann: Person) -> None:
    make_session(crew=[called(ann)], load_in="10:00", end="18:00")
    import_busy(ann, ann, calendar(day("0900", "1100"), day("1700", "1900"), day("1200", "1230")))
    assert taken(ann, firm=True) == [("03-04 09:00", "03-04 10:00"), ("03-04 18:00", "03-04 19:00")]
    assert taken(ann, firm=False) == [
        ("03-04 10:00", "03-04 11:00"), ("03-04 12:00", "03-04 12:30"), ("03-04 17:00", "03-04 18:00"),
    ]  # fmt: skip
    assert overlaps(ann, list(Claim.objects.filter(purpose=Claim.Purpose.BUSY))) == [
        "“Quartet” (called), Thu 4 March, 10:00 to 18:00."
    ]


def test_hours_become_firm_when_the_session_in_them_is_cancelled(
    ann: Person, march: time_machine.Coordinates
) -> None:
    session = make_session(crew=[called(ann)], load_in="10:00", end="18:00")
    source = import_busy(ann, ann, calendar(day("0900", "1100")))
    cancel(manager(), session.pk, session.version, "The client fell ill.")
    march.shift(timedelta(hours=7))
    assert look(source.pk)
    assert taken(ann, firm=True) == [("03-04 09:00", "03-04 11:00")]


def test_a_claim_without_an_end_is_in_the_way_for_ever(ann: Person) -> None:
    leave = make_person(name="Somebody on leave")  # any row can be the origin of a claim
    take(leave, [Wanted(ann.resource_id, Span(at("2027-03-04 11:00"), None), Claim.Purpose.LEAVE, "Away")])
    import_busy(ann, ann, calendar(day("1000", "1200"), day("1500", "1600")))
    assert taken(ann, firm=True) == [("03-04 10:00", "03-04 11:00")]
    assert taken(ann, firm=False) == [("03-04 11:00", "03-04 12:00"), ("03-04 15:00", "03-04 16:00")]


def test_a_bad_calendar_leaves_the_earlier_one_as_it_was(ann: Person) -> None:
    import_busy(ann, ann, calendar(day("1000", "1200")))
    with pytest.raises(NotTaken, match="not an iCalendar file"):
        import_busy(ann, ann, b"Dear all, please find attached")
    assert taken(ann) == [("03-04 10:00", "03-04 12:00")]


def test_what_the_person_declined_is_free(ann: Person) -> None:
    answer = "ATTENDEE;PARTSTAT=DECLINED:mailto:ANN@test.example"
    import_busy(ann, ann, calendar(day("1000", "1200", answer), day("1300", "1400")))
    assert taken(ann) == [("03-04 13:00", "03-04 14:00")]


def test_whole_days_are_the_days_of_the_persons_site() -> None:
    far = make_person(Role.ENGINEER, name="Bo", site=make_site("Far Quay", "America/New_York"))
    import_busy(far, far, calendar(event("DTSTART;VALUE=DATE:20270304")))
    assert taken(far) == [("03-04 00:00", "03-05 00:00")]


def test_only_the_person_and_a_manager_may(ann: Person) -> None:
    stranger = make_person(Role.TECH, name="Cy")
    with pytest.raises(PermissionDenied):
        import_busy(stranger, ann, calendar(day("1000", "1200")))
    source = import_busy(manager(), ann, calendar(day("1000", "1200")))
    with pytest.raises(PermissionDenied):
        forget(stranger, source.pk)


def test_an_address_is_looked_at_again_and_asked_whether_anything_changed(
    ann: Person, server: Server, march: time_machine.Coordinates
) -> None:
    source = subscribe(ann, ann, ADDRESS)
    assert taken(ann) == [("03-04 10:00", "03-04 12:00")]
    march.shift(timedelta(minutes=15))
    server.answer = Fetched(None)
    assert look(source.pk)
    assert server.asked == [(ADDRESS, ""), (ADDRESS, "“one”")]
    assert taken(ann) == [("03-04 10:00", "03-04 12:00")]
    march.shift(timedelta(minutes=15))
    server.answer = Fetched(calendar(day("1500", "1600")), "“two”", "")
    assert look(source.pk)
    assert taken(ann) == [("03-04 15:00", "03-04 16:00")]
    source.refresh_from_db()
    assert (source.etag, source.good_at, source.stale) == ("“two”", timezone.now(), False)


@pytest.mark.parametrize(
    "answer",
    [
        FetchProblem("The server can't be reached."),
        Fetched(b"<html><body>Please sign in</body></html>"),
        Fetched(b""),
        Fetched(calendar(event("DTSTART:soon"))),
    ],
)
def test_a_failed_look_keeps_the_last_good_copy_and_marks_it_stale(
    ann: Person, server: Server, march: time_machine.Coordinates, answer: Fetched | FetchProblem
) -> None:
    source = subscribe(ann, ann, ADDRESS)
    good_at, good, server.answer = source.good_at, server.answer, answer
    march.shift(timedelta(minutes=15))
    assert look(source.pk)
    source.refresh_from_db()
    assert source.stale
    assert source.good_at == good_at
    assert source.copy == calendar_bytes(good)
    assert taken(ann) == [("03-04 10:00", "03-04 12:00")]
    server.answer = good
    march.shift(timedelta(minutes=15))
    assert look(source.pk)
    source.refresh_from_db()
    assert not source.stale


def calendar_bytes(answer: Fetched | FetchProblem) -> bytes:
    assert isinstance(answer, Fetched)
    return answer.data or b""


def test_two_wake_ups_at_once_ask_the_server_once(
    ann: Person, server: Server, march: time_machine.Coordinates
) -> None:
    source = subscribe(ann, ann, ADDRESS)
    march.shift(timedelta(minutes=15))
    assert look(source.pk)
    assert not look(source.pk)
    assert len(server.asked) == 2


def test_beat_wakes_one_look_for_each_calendar_that_is_due(
    ann: Person, server: Server, march: time_machine.Coordinates, monkeypatch: pytest.MonkeyPatch
) -> None:
    woken: list[int] = []
    monkeypatch.setattr(wakeups.look_at_calendar, "delay", woken.append)
    followed = subscribe(ann, ann, ADDRESS)
    filed = import_busy(ann, ann, calendar(day("1500", "1600")))
    gone = make_person(Role.ENGINEER, name="Di", is_active=False)
    import_busy(manager(), gone, calendar(day("1000", "1200")))
    wakeups.look_at_calendars()
    assert woken == []
    march.shift(timedelta(minutes=15))
    wakeups.look_at_calendars()
    assert woken == [followed.pk]
    march.shift(timedelta(hours=7))
    wakeups.look_at_calendars()
    assert woken[1:] == [followed.pk, filed.pk]


def test_days_move_on_with_the_calendar_of_a_file(ann: Person, march: time_machine.Coordinates) -> None:
    rule = ["DTSTART:20270101T100000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY"]
    source = import_busy(ann, ann, calendar(event(*rule)))
    last = Claim.objects.order_by("-starts")[0].starts
    march.shift(timedelta(days=10))
    assert look(source.pk)
    assert Claim.objects.order_by("-starts")[0].starts == last + timedelta(days=10)
