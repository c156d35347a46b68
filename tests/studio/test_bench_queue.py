"""What is mended first: the day it is needed on, then whether anything stands in, how many want it, its age."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings.booking import cancel
from studio.bench.queue import queue
from studio.faults import mend, report_fault, set_expected_back
from studio.models import Claim, Fault, GearModel, GearUnit, MicrophoneSpec, Person, Role
from studio.whereabouts.moves import here
from tests.bookings.cast import make_session, manager
from tests.house import (
    at,
    channel,
    make_many_units,
    make_mic,
    make_model,
    make_person,
    make_preamp,
    make_room,
    make_site,
    make_unit,
    span,
    take_gear,
)

pytestmark = pytest.mark.django_db
NOW = at("2027-03-02 16:40")
Effect, Severity = Fault.Effect, Fault.Severity


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def tech() -> Person:
    return make_person(Role.TECH)


def lone(tag: str) -> GearUnit:
    """A unit at a site of its own: nothing there could stand in."""
    return make_unit(tag, site=make_site(f"Site of {tag}"))


def tags() -> list[str]:
    return [job.fault.unit.tag for job in queue()]


def test_the_day_on_which_it_is_next_needed_comes_first(tech: Person) -> None:
    for tag, day in [("Later", "09"), ("Sooner", "03"), ("Idle", "")]:
        report_fault(tech, lone(tag), None, Effect.NOISY)
        if day:
            unit = GearUnit.objects.get(tag=tag)
            take_gear(unit, span(f"2027-03-{day} 10:00", f"2027-03-{day} 19:00"), "Choir", unit.site)
    assert tags() == ["Sooner", "Later", "Idle"]
    assert [job.reason for job in queue()] == [
        "next needed Wed 3 March, 10:00, “Choir”; nothing like it is free then; wanted by 1 session; "
        "reported less than a day ago",
        "next needed Tue 9 March, 10:00, “Choir”; nothing like it is free then; wanted by 1 session; "
        "reported less than a day ago",
        "nothing is booked on it; nothing like it is free now; reported less than a day ago",
    ]


def test_of_one_day_what_nothing_can_stand_in_for_comes_before_what_is_needed_an_hour_earlier(
    tech: Person,
) -> None:
    spared, alone = make_unit("Spared"), lone("Alone")
    make_unit("The spare")
    take_gear(spared, span("2027-03-03 10:00", "2027-03-03 19:00"))
    take_gear(alone, span("2027-03-03 11:00", "2027-03-03 19:00"))
    for unit in (spared, alone):
        report_fault(tech, unit, None, Effect.NOISY)
    assert tags() == ["Alone", "Spared"]
    assert "1 like it is free then" in queue()[1].reason


def test_then_how_many_want_it_then_the_hour_then_age(tech: Person) -> None:
    for tag, hour, days in [("Young", "12", 1), ("Old", "12", 5), ("Early", "11", 0), ("Twice", "13", 0)]:
        unit = lone(tag)
        take_gear(unit, span(f"2027-03-03 {hour}:00", "2027-03-03 19:00"), "Choir", unit.site)
        report_fault(tech, unit, None, Effect.NOISY, since=NOW - timedelta(days=days))
    take_gear(GearUnit.objects.get(tag="Twice"), span("2027-03-20 10:00", "2027-03-20 19:00"))
    assert tags() == ["Twice", "Early", "Old", "Young"]
    assert "wanted by 2 sessions" in queue()[0].reason


def test_what_stands_in_is_of_the_same_kind_works_and_is_free_while_it_is_needed(tech: Person) -> None:
    ribbon = MicrophoneSpec.Transducer.RIBBON
    broken = make_mic("R-1", ribbon)
    take_gear(broken, span("2027-03-03 10:00", "2027-03-03 19:00"))
    report_fault(tech, broken, None, Effect.NOISY)
    make_mic("M-1", MicrophoneSpec.Transducer.MOVING_COIL)
    make_mic("R-far", ribbon, site=make_site("Elsewhere"))
    make_mic("R-gone", ribbon, retired=True)
    report_fault(tech, make_mic("R-doubt", ribbon), None, Effect.CRACKLES)
    take_gear(make_mic("R-taken", ribbon), span("2027-03-03 18:00", "2027-03-03 20:00"))

    def spare() -> int:
        return next(job.spare for job in queue() if job.fault.unit == broken)

    assert spare() == 0
    take_gear(make_mic("R-free", ribbon), span("2027-03-03 19:00", "2027-03-03 23:00"))
    assert spare() == 1


def test_for_a_channel_its_neighbours_stand_in_unless_they_are_taken_or_broken(tech: Person) -> None:
    oak, third = make_preamp("Oak", 4), 3
    report_fault(tech, oak, channel(oak, third), Effect.NOISY)
    report_fault(tech, oak, channel(oak, 4), Effect.DEAD)
    take_gear(channel(oak, 1), span("2027-03-02 10:00", "2027-03-02 19:00"))
    (job,) = [job for job in queue() if job.fault.channel and job.fault.channel.number == third]
    assert (job.spare, job.wants) == (1, [])


def test_many_that_stand_in_are_not_counted_to_the_end(tech: Person) -> None:
    model = make_model()
    make_many_units(12, model)
    report_fault(tech, GearUnit.objects.get(tag="N-0001"), None, Effect.NOISY)
    assert "9 or more like it are free now" in queue()[0].reason


def test_a_session_that_runs_now_is_needed_now(tech: Person) -> None:
    mic = make_mic("R-1")
    take_gear(mic, span("2027-03-02 10:00", "2027-03-02 19:00"), "Quartet")
    report_fault(tech, mic, None, Effect.NOISY)
    assert queue()[0].reason.startswith("next needed now, “Quartet”; nothing like it is free then")


def test_a_repair_or_a_service_that_has_it_is_no_session_that_wants_it(tech: Person) -> None:
    mic = make_mic("R-1")
    claim = take_gear(mic, span("2027-03-03 10:00", "2027-03-03 19:00"))
    Claim.objects.filter(pk=claim.pk).update(purpose=Claim.Purpose.SERVICE)
    report_fault(tech, mic, None, Effect.NOISY)
    assert queue()[0].wants == []


def test_a_session_that_gave_it_up_to_the_repair_still_wants_it_until_it_is_cancelled(tech: Person) -> None:
    room, mic = make_room(), make_mic("R-1", MicrophoneSpec.Transducer.RIBBON)
    session = make_session(room, title="Quartet")
    take_gear(mic, session.whole, "Quartet", session)
    report_fault(tech, mic, None, Effect.DEAD)
    assert not Claim.objects.of(session).filter(resource=mic.resource).exists()
    assert queue()[0].reason.startswith("next needed Thu 4 March, 10:00, “Quartet”")
    cancel(manager(), session.pk, session.version, "no")
    assert queue()[0].wants == []


def test_a_session_that_asks_for_it_by_its_tag_wants_it_even_though_it_cant_have_it(tech: Person) -> None:
    room, mic = make_room(), make_mic("R-1")
    fault = report_fault(tech, mic, None, Effect.DEAD)
    make_session(room, title="Quartet", wanted_units=(mic.pk,))
    assert queue()[0].reason.startswith("next needed Thu 4 March, 10:00, “Quartet”")
    assert "wanted by 1 session;" in queue()[0].reason
    set_expected_back(tech, fault, at("2027-03-03 12:00"))
    assert len(queue()[0].wants) == 1
    mend(tech, fault, "new ribbon", heard=True)
    assert queue() == []


def test_the_queue_takes_no_more_questions_for_many_than_for_few() -> None:
    model = make_model(GearModel.Kind.PREAMP, channels=2)
    counts = []
    for amount in (2, 30):
        for number in range(amount):
            unit = make_unit(f"P-{amount}-{number}", model)
            take_gear(unit, span("2027-03-03 10:00", "2027-03-03 19:00"), origin=unit)
            Fault.objects.create(
                unit=unit, effect=Effect.NOISY, severity=Severity.LIMITED, since=NOW, reported_at=NOW
            )
        with CaptureQueriesContext(connection) as queries:
            queue()
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_a_job_says_where_the_thing_is_now(tech: Person) -> None:
    mic = make_mic("D-3", home_room=make_room("Weaving Hall"), storage="shelf 2")
    report_fault(tech, mic, None, Fault.Effect.DEAD)
    assert [job.place for job in queue()] == ["Weaving Hall, shelf 2"]
    here(tech, mic, make_room("Workshop"))
    assert [job.place for job in queue()] == ["Workshop, Mill Lane"]
