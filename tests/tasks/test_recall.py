"""The next session of a job begins with what the last one had, and says what befell it since."""

from __future__ import annotations

import pytest
import time_machine
from django.test import Client as Browser

from bookings.booking import book
from bookings.models import Client, Job, Session
from studio.faults import mend, report_fault
from studio.models import Fault, Person, Room
from tasks.recall import recall
from tasks.swaps import offers_for, swap
from tests.house import at
from tests.tasks.test_plan_session import MONDAY, draft, hall, job, manager

__all__ = ["hall", "job", "manager"]
pytestmark = pytest.mark.django_db
LIST = "lead vocal\nsnare top\nrack tom"


def having(session: Session) -> dict[str, tuple[str, int]]:
    rows = session.plan.inputs.select_related("unit", "preamp_channel")
    return {row.label: (row.unit.tag, row.preamp_channel.number) for row in rows}


def test_the_next_session_of_a_job_gets_the_same_units_and_channels(
    job: Job, hall: Room, manager: Person
) -> None:
    with time_machine.travel(MONDAY, tick=False):
        first = book(manager, draft(job, hall, LIST))
        assert recall(Session.objects.with_all().get(pk=first.pk)) is None
        snare = first.plan.inputs.get(label="Snare top")
        swap(manager, snare.pk, spot=next(o.spot for o in offers_for(snare) if o.spot))
        first = Session.objects.with_all().get(pk=first.pk)
        agreed = having(first)
        second = book(manager, draft(job, hall, f"{LIST}\nfloor tom", day=4))
        kept = having(second)
        assert {label: kept[label] for label in agreed} == agreed
        found = recall(second)
        assert found is not None
        assert found.session == first
        assert all(each.same and not each.warnings for each in found.inputs)
        other = Job.objects.create(client=Client.objects.create(name="Elm"), title="First record")
        assert recall(book(manager, draft(other, hall, LIST, day=6))) is None


def test_what_was_swapped_mended_or_sent_away_since_is_said(job: Job, hall: Room, manager: Person) -> None:
    with time_machine.travel(MONDAY, tick=False) as clock:
        first = book(manager, draft(job, hall, LIST))
        vocal = first.plan.inputs.get(label="Lead vocal").unit
        snare = first.plan.inputs.get(label="Snare top").unit
        clock.move_to(at("2027-03-03 10:00"))
        mended = report_fault(manager, vocal, None, Fault.Effect.NOISY)
        mend(manager, mended, "new capsule", heard=True)
        report_fault(manager, snare, None, Fault.Effect.DEAD)
        second = Session.objects.with_all().get(pk=book(manager, draft(job, hall, LIST, day=9)).pk)
        found = recall(second)
        assert found is not None
        said = {each.label: each.warnings for each in found.inputs}
        assert said["Rack tom"] == [] or "instead of" in said["Rack tom"][0]
        assert f"{vocal}: noisy: closed, Wed 3 March, 10:00" in said["Lead vocal"]
        assert said["Snare top"][0].endswith(f"instead of {snare}")
        browser = Browser()
        browser.force_login(manager)
        page = browser.get(f"/sessions/{second.pk}/papers").content.decode()
        assert "Recall: as in" in page
        assert "noisy: closed" in page
