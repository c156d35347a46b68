"""The two pages that a manager opens first."""

from __future__ import annotations

from decimal import Decimal

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings.booking import hand_over
from bookings.deposits import deposit_of, set_deposit
from bookings.models import Rental, Session
from bookings.rentals.hiring import call_off, hire_in, step
from studio.claims import Wanted, take
from studio.faults import mend, report_fault
from studio.models import Claim, Fault, GearModel, Role
from studio.spans import Span
from tests.bookings.cast import browser_of, called, make_job, make_session, manager, said
from tests.house import at, make_model, make_person, make_room, make_unit

pytestmark = pytest.mark.django_db
MORNING = at("2027-03-05 08:00")
EVE = at("2027-03-03 15:00")


def test_last_night_lacks_times_breakdown_and_names_the_fault() -> None:
    hall = make_room("Weaving Hall")
    unit = make_unit("Q-1", home_room=hall)
    session = make_session(hall, "18:00", "23:00", title="Brass band")
    with time_machine.travel(at("2027-03-04 21:00"), tick=False):
        report_fault(manager(), unit, None, Fault.Effect.CRACKLES, words="crackles when warm")
    with time_machine.travel(MORNING, tick=False):
        desk = browser_of(manager())
        page = said(desk.get("/last-night"))
        assert "1 of 1 sessions still lacks something" in page
        assert "Times in and out Open: not entered" in page
        assert "Q-1: crackles when warm" in page
        session.tasks.update(done_at=MORNING)
        Fault.objects.all().delete()
        hand_over(manager(), session.pk, at("2027-03-04 18:00"), at("2027-03-04 23:40"), "Booth lamp is out")
        page = said(desk.get("/last-night"))
    assert "Yes: every session is handed over and in order." in page
    assert "5 h 40 min; 40 min past the end" in page
    assert "Booth lamp is out" in page


def test_tomorrow_says_what_each_session_lacks() -> None:
    make_job(hourly_rate=Decimal("100.00"))
    hall = make_room("Weaving Hall")
    unit = make_unit("Q-1", home_room=hall)
    with time_machine.travel(EVE, tick=False):
        session = make_session(hall, "10:00", "18:00", title="Brass band")
        report_fault(manager(), unit, None, Fault.Effect.CRACKLES)
        make_session(make_room("Loft"), "10:00", "12:00", status=Session.Status.HELD, title="Duo")
        hire_in(
            manager(),
            session,
            "bass drum",
            "Larch Hire",
            Decimal("40.00"),
            at("2027-03-04 08:00"),
            at("2027-03-05 10:00"),
        )
        page = said(browser_of(manager()).get("/tomorrow"))
    for words in (
        "no instrument list",
        "no engineer",
        "no assistant",
        "deposit of 400.00 EUR not in",
        "bass drum: not ordered yet",
        "Q-1: crackles now and then",
        "hold undecided",
        "bass drum from Larch Hire, 40.00 EUR, arrives Thu 4 March, 08:00",
    ):
        assert words in page


def test_the_days_can_be_walked_and_nonsense_is_tomorrow() -> None:
    make_session(make_room(), "10:00", "18:00", title="Brass band")
    with time_machine.travel(EVE, tick=False):
        desk = browser_of(manager())
        assert "Brass band" in said(desk.get("/tomorrow?day=2027-03-04"))
        assert "No session here." in said(desk.get("/tomorrow?day=2027-03-09"))
        assert "What is open for tomorrow?" in said(desk.get("/tomorrow?day=never"))


@pytest.mark.parametrize("address", ["/last-night", "/tomorrow"])
def test_the_pages_take_as_many_queries_for_many_sessions_as_for_few(address: str) -> None:
    def queries() -> int:
        with time_machine.travel(MORNING if "night" in address else EVE, tick=False):
            desk = browser_of(manager())
            assert desk.get(address).status_code == 200
            with CaptureQueriesContext(connection) as captured:
                desk.get(address)
        return len(captured)

    make_session(make_room("Room 0"), crew=[called(make_person(Role.ENGINEER))], instrument_list="vocal")
    few = queries()
    for number in range(1, 6):
        make_session(make_room(f"Room {number}"), crew=[called(make_person(Role.ENGINEER))])
    assert queries() == few


def test_the_pages_are_a_manager_s() -> None:
    for address in ("/last-night", "/tomorrow", "/changes"):
        assert browser_of(make_person(Role.ASSISTANT)).get(address).status_code == 403


def test_a_deposit_is_part_of_the_price_and_comes_in_once() -> None:
    make_job(hourly_rate=Decimal("100.00"))
    session = make_session(make_room(), "10:00", "18:00")
    due = deposit_of(session)
    assert due
    assert str(due) == "400.00 EUR"  # half of eight hours at 100.00
    set_deposit(manager(), session.pk, True)
    set_deposit(manager(), session.pk, True)
    session.refresh_from_db()
    assert session.deposit_in_at
    assert session.history.filter(what="deposit").count() == 1
    browser_of(manager()).post(f"/sessions/{session.pk}/deposit", {"is_in": "no"})
    session.refresh_from_db()
    assert session.deposit_in_at is None


def test_a_rental_goes_its_way_step_by_step() -> None:
    session = make_session(make_room(), "10:00", "18:00", title="Brass band")
    desk = browser_of(manager())
    typed = {
        "what": "bass drum",
        "supplier": "Larch Hire",
        "cost": "40",
        "arrives_at": "2027-03-04T08:00",
        "back_at": "2027-03-05T10:00",
    }
    wrong = desk.post(f"/sessions/{session.pk}/hire-in", typed | {"back_at": "2027-03-03T10:00"})
    assert "It can't go back before it arrives (Thu 4 March, 08:00)." in said(wrong)
    assert 'value="bass drum"' in wrong.content.decode()
    desk.post(f"/sessions/{session.pk}/hire-in", typed)
    rental = Rental.objects.get()
    for name in ("ordered", "arrived", "returned"):
        desk.post(f"/rentals/{rental.pk}/{name}")
    rental.refresh_from_db()
    assert rental.returned_at
    desk.post(f"/rentals/{rental.pk}/not-returned")
    rental.refresh_from_db()
    assert rental.returned_at is None
    assert desk.post(f"/rentals/{rental.pk}/flown").status_code == 404
    assistant = browser_of(make_person(Role.ASSISTANT))
    assert assistant.post(f"/rentals/{rental.pk}/off").status_code == 403
    step(manager(), rental, "arrived", done=False)
    call_off(manager(), rental)
    told = [entry.words for entry in session.history.filter(what="rental").order_by("pk")]
    assert told[0].startswith("To be hired in: bass drum from Larch Hire")
    assert told[-1] == "Not hired in after all: bass drum."


def test_a_session_is_found_by_number_client_person_and_words() -> None:
    anna = make_person(Role.ENGINEER, name="Anna Quist")
    make_job("Tin Harbour", "Second record")
    session = make_session(make_room("Kiln"), title="Brass band", crew=[called(anna)])
    make_session(make_room("Loft"), title="Voice")
    with time_machine.travel(EVE, tick=False):
        desk = browser_of(manager())
        for words in (f"#{session.pk}", "quist", "brass kiln"):
            page = said(desk.get("/sessions", {"q": words}))
            assert "Brass band" in page
            assert "Voice" not in page.partition("How it stands")[2]
        assert "Brass band" in said(desk.get("/sessions", {"q": "harbour second"}))
        tech = browser_of(make_person(Role.TECH))
        assert "Brass band" not in said(tech.get("/sessions", {"q": "harbour"}))


def test_changes_are_listed_with_who_and_when_and_can_be_narrowed() -> None:
    with time_machine.travel(EVE, tick=False):
        session = make_session(make_room("Kiln"), title="Brass band")
    set_deposit(manager(), session.pk, True)
    desk = browser_of(manager())
    page = said(desk.get("/changes", {"day": "2027-03-03"}))
    assert f"No. {session.pk} Brass band , Kiln Booked." in page
    assert "Mara, Wed 3 March, 15:00" in page
    assert "The deposit is in." not in page
    assert "No change fits." in said(desk.get("/changes", {"words": "overruled"}))


def test_a_fault_that_the_bench_has_in_hand_no_longer_keeps_the_night_open() -> None:
    hall = make_room("Weaving Hall")
    unit = make_unit("Q-1", home_room=hall)
    session = make_session(hall, "18:00", "23:00", title="Brass band")
    with time_machine.travel(at("2027-03-04 21:00"), tick=False):
        fault = report_fault(manager(), unit, None, Fault.Effect.CRACKLES, words="crackles when warm")
    with time_machine.travel(MORNING, tick=False):
        session.tasks.update(done_at=MORNING)
        hand_over(manager(), session.pk, at("2027-03-04 18:00"), at("2027-03-04 23:00"), "")
        desk = browser_of(manager())
        assert "Faults Open: Q-1: crackles when warm" in said(desk.get("/last-night"))
        mend(make_person(Role.TECH), fault, "reseated a valve", heard=True)
        page = said(desk.get("/last-night"))
    assert "Yes: every session is handed over and in order." in page
    assert "Q-1: crackles when warm (mended)" in page


def test_a_session_without_its_times_is_asked_after_until_they_are_entered() -> None:
    older = make_session(make_room(), "2027-02-26 10:00", "2027-02-26 18:00", title="Friday band")
    with time_machine.travel(MORNING, tick=False):
        desk = browser_of(manager())
        for address in ("/last-night", "/board/open"):
            assert "Friday band" in said(desk.get(address))
        assert "1 from before still waits for times in and out" in said(desk.get("/last-night"))
        hand_over(manager(), older.pk, at("2027-02-26 10:00"), at("2027-02-26 18:00"), "")
        for address in ("/last-night", "/board/open"):
            assert "Friday band" not in said(desk.get(address))


def test_what_lives_in_a_part_of_the_room_touches_whoever_takes_the_whole() -> None:
    floor = make_room("Floor")
    make_session(make_room("Hall", parts=[floor]), "18:00", "23:00", title="Brass band")
    unit = make_unit("Q-1", home_room=floor)
    with time_machine.travel(EVE, tick=False):
        desk = browser_of(manager())
        report_fault(manager(), unit, None, Fault.Effect.CRACKLES, words="crackles when warm")
        for address in ("/tomorrow", "/board/open"):
            assert "Q-1: crackles when warm" in said(desk.get(address))
    with time_machine.travel(at("2027-03-04 22:00"), tick=False):
        report_fault(manager(), make_unit("Q-2", home_room=floor), None, Fault.Effect.DEAD)
    with time_machine.travel(MORNING, tick=False):
        assert "Q-2: does not work at all" in said(browser_of(manager()).get("/last-night"))


def test_of_planned_gear_only_faults_on_what_was_chosen_are_open_points() -> None:
    hall = make_room()
    model = make_model(GearModel.Kind.PREAMP, channels=2)
    used, spare = make_unit("P-1", model, home_room=hall), make_unit("P-2", model, home_room=hall)
    amplifier = make_unit("A-1", make_model(GearModel.Kind.AMPLIFIER), home_room=hall)
    one, two = used.channels.order_by("number")
    session = make_session(hall, "10:00", "18:00")
    for thing in (used, one):
        whole = Span(session.setup_at, session.clear_at)
        take(session, [Wanted(thing.resource_id, whole, Claim.Purpose.GEAR, "in use")])
    with time_machine.travel(EVE, tick=False):
        for unit, channel in [(used, one), (used, two), (spare, None), (amplifier, None)]:
            report_fault(manager(), unit, channel, Fault.Effect.CRACKLES)
        page = said(browser_of(manager()).get("/tomorrow"))
    assert "P-1 channel 1: crackles" in page
    assert "A-1: crackles" in page
    assert "P-1 channel 2" not in page
    assert "P-2" not in page


def test_hours_of_another_day_are_said_with_its_name_and_the_site_stays_asked_for() -> None:
    session = make_session(make_room(), "2027-03-03 20:30", "2027-03-04 00:30", title="Night overdubs")
    with time_machine.travel(EVE, tick=False):
        page = browser_of(manager()).get(f"/tomorrow?site={session.room.site_id}")
    assert "Wed 20:30 to 00:30" in said(page)
    assert f"?day=2027-03-05&amp;site={session.room.site_id}" in page.content.decode()
