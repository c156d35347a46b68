"""What is ticked off as set up stays where it is: unit, channel and line. The rest is told once to those concerned."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
import time_machine
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st

from bookings.booking import Called, book, change
from bookings.models import Job, Session
from studio.faults import report_fault
from studio.models import Fault, Notice, Person, Role, Room
from tasks import follow
from tasks.models import PapersSeen
from tasks.planning.bench_cases import snapshot as bench_snapshot
from tasks.planning.changes import differences
from tasks.planning.checker import violations
from tasks.planning.left import left_as_it_was
from tasks.planning.plan import plan
from tasks.planning.snapshot import Snapshot, Switching
from tasks.planning.steady import Had
from tasks.ticks import set_done
from tests.house import make_person
from tests.tasks.planning_houses import house, mic, mic_need, preamp, snapshots
from tests.tasks.test_plan_session import MONDAY, draft, hall, job, manager

__all__ = ["hall", "job", "manager"]


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(MONDAY, tick=False) as traveller:
        yield traveller


def test_a_channel_and_a_line_that_are_patched_are_kept_though_the_patch_be_longer() -> None:
    racks = [preamp("P-1", 4, Switching.PER_CHANNEL), preamp("P-2", 4, Switching.PER_CHANNEL)]
    snapshot = house([mic_need(1), mic_need(2)], [mic("M-1"), mic("M-2")], racks)
    made = plan(snapshot)
    assert {row.preamp for row in made.inputs} == {"P-1"}
    units = {row.label: row.unit or "" for row in made.inputs}
    before = {"source 2": Had(units["source 2"], ("P-2", 3), 7, 9, set_up=True)}
    first, second = left_as_it_was(snapshot, made, before).inputs
    assert (second.preamp, second.channel, second.line, second.recorder_input) == ("P-2", 3, 7, 9)
    assert (first.preamp, first.line, first.recorder_input) == ("P-1", 1, 1)
    another = {"source 2": Had("M-9", ("P-2", 3))}
    assert left_as_it_was(snapshot, made, another) == made


@settings(max_examples=60, deadline=None)
@given(snapshots(), st.randoms(use_true_random=False))
def test_no_rule_is_broken_and_nobody_loses_a_unit_whatever_stood_before(
    snapshot: Snapshot, choose: object
) -> None:
    made = plan(snapshot)
    spots = [(p.tag, c.number) for p in snapshot.preamps for c in p.channels]
    choose.shuffle(spots)  # type: ignore[attr-defined]
    before = {row.label: Had(row.unit or "", spot) for row, spot in zip(made.inputs, spots, strict=False)}
    after = left_as_it_was(snapshot, made, before)
    assert violations(snapshot, after) == []
    assert [(r.number, r.unit) for r in after.inputs] == [(r.number, r.unit) for r in made.inputs]
    agreed = {row.label: Had(row.unit or "", (row.preamp, row.channel)) for row in after.inputs if row.preamp}
    assert left_as_it_was(snapshot, made, agreed) == after


def test_a_plan_made_anew_from_a_house_that_is_the_same_moves_nothing() -> None:
    wanted = bench_snapshot(48)
    named = tuple(replace(need, label=f"{need.label} {need.number}") for need in wanted.needs)
    made = plan(replace(wanted, needs=named))
    before = {
        row.label: Had(row.unit or "", (row.preamp, row.channel) if row.preamp and row.channel else None)
        for row in made.inputs
    }
    kept = tuple(replace(n, had=before[n.label].unit) if n.label in before else n for n in named)
    again = left_as_it_was(wanted, plan(replace(wanted, needs=kept)), before)
    assert differences(before, again) == []


def standing(session: Session) -> dict[str, tuple[object, ...]]:
    rows = Session.objects.get(pk=session.pk).plan.inputs.all()
    return {row.label: (row.unit, row.preamp_channel, row.line, row.recorder_input) for row in rows}


@pytest.mark.django_db
def test_a_fault_and_a_shorter_list_leave_what_is_set_up_and_are_told_once(
    job: Job, hall: Room, manager: Person
) -> None:
    ines, rui = make_person(Role.ASSISTANT, name="Ines"), make_person(Role.ENGINEER, name="Rui")
    crew = (Called(ines.pk, Role.ASSISTANT), Called(rui.pk, Role.ENGINEER))
    session = book(manager, draft(job, hall, "kick in\nsnare top\nlead vocal", crew=crew))
    before = standing(session)
    set_done(ines, session.tasks.get(stage="setup", input__label="Lead vocal").pk)
    shorter = draft(job, hall, "snare top\nlead vocal", crew=crew)
    session = change(manager, session.pk, session.version, shorter)
    assert standing(session)["Lead vocal"] == before["Lead vocal"]
    assert session.plan.changes == ["No longer: Kick in.", *session.plan.changes[1:]]
    assert {notice.person for notice in Notice.objects.all()} == {ines, rui}
    Notice.objects.all().delete()

    snare = session.plan.inputs.get(label="Snare top").unit
    report_fault(manager, snare, None, Fault.Effect.DEAD)
    follow.replan_stale()
    now = standing(session)
    assert now["Lead vocal"] == before["Lead vocal"]
    [said] = Session.objects.get().plan.changes
    assert said.startswith(f"Snare top: {now['Snare top'][0].tag} instead of {snare.tag}")  # type: ignore[attr-defined]
    assert Notice.objects.count() == 2
    assert said in Notice.objects.get(person=rui).text
    follow.replan(session.pk)
    assert Notice.objects.count() == 2
    assert Session.objects.get().plan.changes == [said]


@pytest.mark.django_db
def test_whoever_has_not_looked_yet_is_not_written_to_about_a_session_that_is_far_off(
    job: Job, hall: Room, manager: Person
) -> None:
    ines, rui = make_person(Role.ASSISTANT, name="Ines"), make_person(Role.ENGINEER, name="Rui")
    crew = (Called(ines.pk, Role.ASSISTANT), Called(rui.pk, Role.ENGINEER))
    session = book(manager, draft(job, hall, "snare top", day=20, crew=crew))
    PapersSeen.objects.create(session=session, person=rui, at=timezone.now() - timedelta(hours=1), rows=[])
    change(manager, session.pk, session.version, draft(job, hall, "lead vocal", day=20, crew=crew))
    assert [notice.person for notice in Notice.objects.all()] == [rui]
