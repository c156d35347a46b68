"""From a booking to its input list, claims, checklist and back, through the use cases alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
import time_machine

from bookings.booking import Called, Draft, book, cancel, change
from bookings.drafts import as_draft
from bookings.models import Client, Job, Session
from bookings.series.booking import Scope, change_series, repeat
from studio.faults import hear, mend, report_fault
from studio.models import (
    Claim,
    Fault,
    GearUnit,
    MicrophoneSpec,
    Person,
    Phantom,
    PreampSpec,
    Role,
    Room,
    Stay,
)
from studio.spans import Span
from studio.whereabouts import moves
from tasks import follow, solving
from tasks.catalogue import load_catalogue
from tasks.make_checklist import NO_LONGER
from tasks.models import Plan, Task
from tasks.snapshots import look
from tasks.ticks import set_done, set_not_done
from tests.house import at, channel, make_di, make_mic, make_person, make_preamp, make_room, make_stock

pytestmark = pytest.mark.django_db
MONDAY = at("2027-03-01 09:00")


@pytest.fixture(autouse=True)
def _frozen() -> object:
    with time_machine.travel(MONDAY, tick=False):
        yield


@pytest.fixture
def hall() -> Room:
    """A hall with a rack of eight in two banks of four, six microphones, two boxes and stands."""
    room = make_room("Weaving Hall", setup_minutes=90, turnaround_minutes=60)
    make_preamp(
        "Oak", 8, home_room=room, switching=PreampSpec.Switching.PER_BANK, bank_size=4, drain_seconds=90
    )
    for number in range(1, 4):
        make_mic(f"D-{number}", MicrophoneSpec.Transducer.MOVING_COIL, max_spl_db=160)
        make_mic(
            f"C-{number}",
            MicrophoneSpec.Transducer.LARGE_CONDENSER,
            Phantom.NEEDS,
            max_spl_db=140,
            current_ma=4,
        )
    make_mic("R-1", MicrophoneSpec.Transducer.RIBBON, Phantom.MUST_NOT, max_spl_db=160)
    make_di("Box-1", active=True)
    make_di("Box-2", active=False)
    for name in ("tall boom", "short boom", "straight", "clip"):
        make_stock(name, 6)
    return room


@pytest.fixture
def manager() -> Person:
    return make_person(Role.MANAGER)


@pytest.fixture
def job() -> Job:
    return Job.objects.create(client=Client.objects.create(name="Tin Harbour"), title="Second record")


def draft(job: Job, room: Room, text: str, day: int = 2, **fields: object) -> Draft:
    start = at(f"2027-03-{day:02} 10:00")
    return Draft(
        job_id=job.pk,
        room=room,
        title="Overdubs",
        load_in=start - timedelta(minutes=30),
        downbeat=start,
        end=start + timedelta(hours=8),
        instrument_list=text,
        **fields,  # type: ignore[arg-type]
    )


def gear_of(session: Session) -> set[str]:
    claims = Claim.objects.of(session).filter(purpose=Claim.Purpose.GEAR)
    return {claim.resource.name for claim in claims.select_related("resource")}


def test_booking_a_list_plans_claims_and_makes_the_checklist(job: Job, hall: Room, manager: Person) -> None:
    ines = make_person(Role.ASSISTANT)
    crew = (Called(ines.pk, Role.ASSISTANT),)
    session = book(manager, draft(job, hall, "lead vocal\nbass DI\ntrumpet", crew=crew))
    plan = session.plan
    assert plan.status == "proven"
    assert [each.label for each in plan.inputs.all()] == ["Lead vocal", "Bass", "Trumpet"]
    assert not plan.unfilled.exists()
    planned_units = {each.unit.tag for each in plan.inputs.all() if each.unit}
    assert planned_units <= gear_of(session)
    tasks = list(session.tasks.all())
    assert {task.stage for task in tasks} == set(Task.Stage.values)
    assert {task.assignee for task in tasks} == {ines}
    assert {r.kind for r in session.reminders.all()} == {"morning", "phantom", "breakdown"}


def test_the_checklist_says_where_each_microphone_goes_whatever_the_source_is_called(
    job: Job, hall: Room, manager: Person
) -> None:
    session = book(manager, draft(job, hall, "tenor sax, alto sax"))
    catalogue = load_catalogue()
    for planned in session.plan.inputs.filter(pickup="mic"):
        position = catalogue.by_name[planned.source].position
        assert position
        words = " ".join(str(task.details) + task.title for task in session.tasks.filter(input=planned))
        assert position.casefold() in words.casefold(), planned.source


def test_the_ribbon_for_the_trumpet_never_shares_a_switch_that_is_on(
    job: Job, hall: Room, manager: Person
) -> None:
    session = book(manager, draft(job, hall, "lead vocal\ntrumpet"))
    vocal, trumpet = session.plan.inputs.all()
    assert trumpet.unit.tag == "R-1"
    assert (vocal.phantom, trumpet.phantom) == (True, False)
    bank = {each.pk: (each.preamp_channel.number - 1) // 4 for each in (vocal, trumpet)}
    assert bank[vocal.pk] != bank[trumpet.pk]


def test_two_sessions_at_once_never_get_the_same_unit(job: Job, hall: Room, manager: Person) -> None:
    booth = make_room("Booth", site=hall.site)
    make_preamp("Elm", 4, home_room=booth)
    first = book(manager, draft(job, hall, "2 lead vocals"))
    second = book(manager, draft(job, booth, "2 lead vocals"))
    assert not gear_of(first) & {n for n in gear_of(second) if not n.endswith("boom")}
    assert second.plan.inputs.count() == 2


def test_a_rack_that_can_be_carried_is_never_shared_by_two_rooms_at_once(
    job: Job, hall: Room, manager: Person
) -> None:
    loft = make_room("Loft", site=hall.site)
    make_preamp("Suitcase", 4, site=hall.site, switching=PreampSpec.Switching.WHOLE_UNIT)
    book(manager, draft(job, loft, "lead vocal"))
    attic = book(manager, draft(job, make_room("Attic", site=hall.site), "trumpet"))
    need = attic.plan.unfilled.get()
    assert "preamp" in need.reason
    assert "Suitcase" in str(need.help)
    later = book(manager, draft(job, loft, "trumpet", day=3))
    assert later.plan.inputs.get().preamp_channel.unit.tag == "Suitcase"


def test_what_can_not_be_met_says_why_and_the_rest_is_planned(job: Job, hall: Room, manager: Person) -> None:
    GearUnit.objects.filter(gear_model__kind="di").update(retired=True)
    session = book(manager, draft(job, hall, "lead vocal\nbass DI"))
    assert [each.label for each in session.plan.inputs.all()] == ["Lead vocal"]
    need = session.plan.unfilled.get()
    assert need.label == "Bass"
    assert "DI" in need.reason
    open_task = session.tasks.get(key="open-inputs")
    assert "Bass" in str(open_task.details)


def test_moving_a_session_moves_its_gear_claims_and_reminders(job: Job, hall: Room, manager: Person) -> None:
    ines = make_person(Role.ASSISTANT)
    crew = (Called(ines.pk, Role.ASSISTANT),)
    session = book(manager, draft(job, hall, "lead vocal", crew=crew))
    due = session.reminders.get(kind="morning").due_at
    moved = change(manager, session.pk, session.version, draft(job, hall, "lead vocal", day=5, crew=crew))
    for claim in Claim.objects.of(session).filter(purpose=Claim.Purpose.GEAR):
        assert (claim.starts, claim.ends) == (moved.setup_at, moved.clear_at)
    assert moved.reminders.get(kind="morning", state="waiting").due_at == due + timedelta(days=3)


def test_cancelling_gives_everything_back_and_sends_nothing(job: Job, hall: Room, manager: Person) -> None:
    crew = (Called(make_person(Role.ASSISTANT).pk, Role.ASSISTANT),)
    session = book(manager, draft(job, hall, "lead vocal", crew=crew))
    cancel(manager, session.pk, session.version, "the singer is ill")
    assert not Claim.objects.of(session).exists()
    assert not Plan.objects.filter(session=session).exists()
    assert not session.tasks.exists()
    assert set(session.reminders.values_list("state", flat=True)) == {"dropped"}


def test_a_tick_survives_a_new_plan_and_done_work_that_falls_away_says_so(
    job: Job, hall: Room, manager: Person
) -> None:
    session = book(manager, draft(job, hall, "lead vocal\nbass DI"))
    walk = session.tasks.get(key="walk")
    bass = session.tasks.get(stage="setup", input__label="Bass")
    set_done(manager, walk.pk)
    set_done(manager, bass.pk)
    change(manager, session.pk, session.version, draft(job, hall, "lead vocal"))
    assert session.tasks.get(key="walk").done_at == MONDAY
    assert session.tasks.get(pk=bass.pk).problem == NO_LONGER
    assert list(session.tasks.all())[-1].pk == bass.pk


def test_the_first_tick_stands_and_can_be_taken_back(job: Job, hall: Room, manager: Person) -> None:
    session = book(manager, draft(job, hall, "lead vocal"))
    other = make_person(Role.ASSISTANT)
    task = session.tasks.first()
    set_done(manager, task.pk)
    set_done(other, task.pk)
    task.refresh_from_db()
    assert task.done_by == manager
    set_not_done(other, task.pk)
    task.refresh_from_db()
    assert (task.done_at, task.done_by) == (None, None)


def test_a_dead_microphone_is_planned_around_and_comes_back_when_mended(
    job: Job, hall: Room, manager: Person, django_capture_on_commit_callbacks: object
) -> None:
    session = book(manager, draft(job, hall, "trumpet"))
    ribbon = GearUnit.objects.get(tag="R-1")
    assert session.plan.inputs.get().unit == ribbon
    with django_capture_on_commit_callbacks(execute=True):
        fault = report_fault(manager, ribbon, None, Fault.Effect.DEAD)
    session = Session.objects.get(pk=session.pk)
    assert session.plan.inputs.get().unit.tag != "R-1"
    assert "R-1" not in gear_of(session)
    with django_capture_on_commit_callbacks(execute=True):
        mend(manager, fault, "new ribbon", heard=True)
    other = book(manager, draft(job, hall, "trumpet", day=9))
    assert other.plan.inputs.get().unit == ribbon


def test_a_channel_without_phantom_still_serves_a_moving_coil_but_no_condenser(
    job: Job, hall: Room, manager: Person, django_capture_on_commit_callbacks: object
) -> None:
    oak = GearUnit.objects.get(tag="Oak")
    for number in range(1, 8):
        report_fault(manager, oak, channel(oak, number), Fault.Effect.NO_PHANTOM)
    session = book(manager, draft(job, hall, "lead vocal\nsnare top\nrack tom"))
    vocal, *drums = session.plan.inputs.all()
    assert vocal.preamp_channel.number == 8
    assert len(drums) == 2
    assert {each.unit.gear_model.microphone.transducer for each in drums} == {"moving-coil"}


def refused(*args: object) -> list[str]:
    return ["line 1 is used twice"]


def mistaken(*args: object) -> list[str]:
    raise TypeError("a mistake of ours")


@pytest.mark.parametrize(("where", "broken"), [("violations", refused), ("wanted_of", mistaken)])
def test_a_plan_that_can_not_be_made_never_stops_a_booking(
    job: Job, hall: Room, manager: Person, monkeypatch: pytest.MonkeyPatch, where: str, broken: object
) -> None:
    monkeypatch.setattr(solving, where, broken)
    crew = (Called(make_person(Role.ASSISTANT).pk, Role.ASSISTANT),)
    session = book(manager, draft(job, hall, "lead vocal", crew=crew))
    plan = Plan.objects.get(session=session)
    assert (plan.stale, plan.status) == (True, "not planned yet")
    assert not plan.inputs.exists()
    moved = change(manager, session.pk, session.version, draft(job, hall, "lead vocal", day=4, crew=crew))
    assert {each.due_at.date() for each in moved.reminders.all()} == {moved.downbeat.date()}
    monkeypatch.undo()
    assert follow.replan_stale() == 1
    assert Plan.objects.get(session=session).inputs.count() == 1


def test_a_look_at_the_house_asks_equally_often_however_much_gear_there_is(
    job: Job, hall: Room, manager: Person, django_assert_max_num_queries: object
) -> None:

    for _ in range(60):
        make_mic()
    with django_assert_max_num_queries(12):
        look(hall, Span(at("2027-03-02 08:00"), at("2027-03-02 20:00")), ())


def test_a_list_longer_than_any_room_is_planned_as_far_as_that_goes_and_drops_nothing(
    job: Job, hall: Room, manager: Person
) -> None:
    session = book(manager, draft(job, hall, "lead vocal\n" * 230))
    plan = session.plan
    assert plan.inputs.count() + plan.unfilled.count() == 230
    assert plan.unfilled.filter(number__gt=200, reason__contains="200").count() == 30


def gear_and_when(session: Session) -> list[tuple[str, object]]:
    claims = Claim.objects.of(session).filter(purpose=Claim.Purpose.GEAR).select_related("resource")
    return sorted((claim.resource.name, claim.span) for claim in claims)


def test_many_that_are_changed_at_once_take_their_gear_along_and_are_planned_by_the_worker(
    job: Job, hall: Room, manager: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = book(manager, draft(job, hall, "lead vocal"))
    repeat(manager, first.pk, first.version, "FREQ=WEEKLY;COUNT=3", ())
    follow.replan_stale()
    sessions = list(Session.objects.with_all().order_by("load_in"))
    gear = [[name for name, _ in gear_and_when(session)] for session in sessions]
    assert all(len(names) >= 3 for names in gear)
    away = next(name for name in gear[1] if name.startswith("C-"))
    other = replace(draft(job, hall, "", day=9), room=make_room("Dye Room"), wanted_units=(tagged(away).pk,))
    book(
        manager,
        replace(
            other, downbeat=at("2027-03-09 21:30"), end=at("2027-03-09 23:00"), load_in=at("2027-03-09 21:30")
        ),
    )
    monkeypatch.setattr(solving, "checked_plan", mistaken)  # nothing is planned while all are changed
    later = as_draft(sessions[0])
    later = replace(
        later, **{name: getattr(later, name) + timedelta(hours=4) for name in ("load_in", "downbeat", "end")}
    )
    change_series(manager, sessions[0].pk, sessions[0].version, later, Scope.ALL)
    monkeypatch.undo()
    moved = list(Session.objects.with_all().filter(series__isnull=False).order_by("load_in"))
    assert gear_and_when(moved[0]) == [(name, moved[0].whole) for name in gear[0]]
    assert gear_and_when(moved[1]) == []
    assert all(each.plan.stale for each in moved)
    assert follow.replan_stale() == 3
    assert away not in [name for name, _ in gear_and_when(moved[1])]
    assert [each.plan.inputs.count() for each in Session.objects.filter(pk__in=[s.pk for s in moved])] == [
        1,
        1,
        1,
    ]


def tagged(tag: str) -> GearUnit:
    return GearUnit.objects.get(tag=tag)


def test_a_doubt_of_the_whole_thing_is_the_last_choice_and_a_limit_isnt(
    job: Job, hall: Room, manager: Person
) -> None:
    oak, doubted, limited = tagged("Oak"), tagged("D-1"), tagged("D-2")
    report_fault(manager, oak, channel(oak, 1), Fault.Effect.CRACKLES)
    report_fault(manager, doubted, None, Fault.Effect.CRACKLES)
    report_fault(manager, limited, None, Fault.Effect.CRACKLES, Fault.Severity.LIMITED)
    report_fault(manager, oak, channel(oak, 2), Fault.Effect.NO_PHANTOM, Fault.Severity.SUSPECTED)
    seen = look(hall, Span(at("2027-03-02 08:00"), at("2027-03-02 20:00")), ()).snapshot
    units = {unit.tag: unit for unit in seen.pickups}
    first, second = seen.preamps[0].channels[:2]
    assert (units["D-1"].last_choice, units["D-1"].limits) == (True, ("suspected: crackles now and then",))
    assert (units["D-2"].last_choice, units["D-2"].limits) == (False, ("crackles now and then",))
    assert (first.last_choice, second.last_choice, second.phantom_works) == (True, False, False)


def test_the_planner_knows_where_things_will_be(job: Job, hall: Room, manager: Person) -> None:
    loft, mic, oak = make_room("Loft"), tagged("D-1"), tagged("Oak")
    make_preamp("Elm", 2, home_room=loft)
    moves.send(manager, mic, loft, due_at=at("2027-03-05 12:00"))
    moves.send(manager, oak, loft)
    moves.send(manager, tagged("Elm"), hall)
    moves.lend(manager, tagged("D-2"), Stay.Kind.LOAN, "Tin Harbour", at("2027-03-04 12:00"))
    seen = look(hall, Span(at("2027-03-03 08:00"), at("2027-03-03 20:00")), ()).snapshot
    assert {unit.tag: unit.here for unit in seen.pickups if unit.tag in ("D-1", "D-3")} == {
        "D-1": False,
        "D-3": True,
    }
    assert {preamp.tag: preamp.here for preamp in seen.preamps} == {"Elm": True, "Oak": False}
    assert [(each.tag, each.why) for each in seen.missing] == [
        ("D-2", "lent to Tin Harbour, due back Thu 4 March, 12:00")
    ]
    later = look(hall, Span(at("2027-03-06 08:00"), at("2027-03-06 20:00")), ()).snapshot
    here = {unit.tag for unit in later.pickups if unit.here}
    assert {"D-1", "D-2"} <= here


def test_the_planner_takes_faults_as_they_are_meant(job: Job, hall: Room, manager: Person) -> None:
    oak, ribbon = tagged("Oak"), tagged("R-1")
    condenser = tagged("C-1").gear_model.microphone
    MicrophoneSpec.objects.update(patterns="cardioid, omni")
    MicrophoneSpec.objects.filter(pk=condenser.pk).update(sensitivity_mv_pa=20)
    report_fault(manager, oak, channel(oak, 1), Fault.Effect.NOISY, above_gain_db=40)
    report_fault(manager, tagged("C-1"), None, Fault.Effect.PATTERN, pattern="Kugel")
    back = report_fault(manager, ribbon, None, Fault.Effect.DEAD)
    mend(manager, back, "new ribbon", heard=False)
    lost = report_fault(manager, tagged("C-2"), None, Fault.Effect.MISSING)
    day = Span(at("2027-03-02 08:00"), at("2027-03-02 20:00"))
    seen = look(hall, day, ()).snapshot
    units = {unit.tag: unit for unit in seen.pickups}
    assert units["C-1"].only_patterns == ("cardioid",)
    assert (units["R-1"].last_choice, units["R-1"].limits) == (
        True,
        ("back, not yet heard: does not work at all",),
    )
    assert "C-2" not in units
    assert [each.tag for each in seen.missing] == ["C-2"]
    first, second = seen.preamps[0].channels[:2]
    assert (first.last_choice, first.noisy_above_db) == (False, 40)
    assert first.limits == ("noisy above 40 dB of gain",)
    assert (second.last_choice, second.noisy_above_db) == (False, None)
    mend(manager, lost, "was in the other room", heard=True)
    assert (units["C-1"].gain_at_94_db, units["D-1"].gain_at_94_db) == (pytest.approx(39.76, abs=0.01), None)
    hear(manager, back)
    seen = look(hall, day, ()).snapshot
    assert {unit.tag for unit in seen.pickups if not unit.last_choice} >= {"C-2", "R-1"}


def test_what_was_asked_for_by_its_tag_is_planned_where_it_can_serve(
    job: Job, hall: Room, manager: Person
) -> None:
    ribbon = GearUnit.objects.get(tag="R-1")
    text = "lead vocal\nsnare top"
    without = book(manager, draft(job, hall, text, day=3))
    assert "R-1" not in [each.unit.tag for each in without.plan.inputs.all() if each.unit]
    condenser = GearUnit.objects.get(tag="C-3")
    session = book(manager, draft(job, hall, text, wanted_units=(condenser.pk, ribbon.pk)))
    vocal, snare = session.plan.inputs.all()
    assert vocal.unit in (condenser, ribbon)
    assert vocal.why[0] == f"{vocal.unit.tag} was asked for by its tag."
    assert snare.unit.gear_model.microphone.transducer == "moving-coil"
