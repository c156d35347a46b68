"""A press puts another unit or channel on an input: plan, claims and checklist follow, the choice is kept, people are
told once."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine
from django.core import mail
from django.core.exceptions import PermissionDenied
from django.test import Client
from hypothesis import given, settings

from bookings.booking import Called, book, change
from bookings.models import Job, Session
from studio import notices
from studio.faults import report_fault
from studio.models import Claim, Fault, GearUnit, Notice, Person, Role, Room
from tasks import follow
from tasks.models import Pin, PlannedInput
from tasks.planning.checker import violations
from tasks.planning.plan import plan
from tasks.planning.snapshot import Snapshot
from tasks.planning.swap import settled, substitutes
from tasks.swaps import NotSwapped, offers_for, swap, uses_of
from tests.house import channel, make_person
from tests.tasks.planning_houses import snapshots
from tests.tasks.test_plan_session import MONDAY, draft, gear_of, hall, job, manager, tagged

__all__ = ["hall", "job", "manager"]


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(MONDAY, tick=False) as traveller:
        yield traveller


@pytest.fixture
def ines() -> Person:
    return make_person(Role.ASSISTANT, name="Ines")


@pytest.fixture
def session(job: Job, hall: Room, manager: Person, ines: Person) -> Session:
    crew = (Called(ines.pk, Role.ASSISTANT),)
    return book(manager, draft(job, hall, "lead vocal\nsnare top\nrack tom", crew=crew))


@settings(max_examples=60, deadline=None)
@given(snapshots(most_needs=5, most_units=6, most_preamps=2))
def test_whatever_is_offered_holds_every_rule_and_changes_that_input_alone(snapshot: Snapshot) -> None:
    made = plan(snapshot)
    assert settled(snapshot, made).inputs == made.inputs
    for row in made.inputs:
        for offer in substitutes(snapshot, made, row.number):
            assert violations(snapshot, offer.plan) == []
            after = {r.number: (r.unit, r.preamp, r.channel) for r in offer.plan.inputs}
            before = {r.number: (r.unit, r.preamp, r.channel) for r in made.inputs}
            assert {n for n in before if before[n] != after[n]} == {row.number}
            assert offer.why


@pytest.mark.django_db
def test_a_swap_carries_through_to_claims_and_checklist_and_tells_the_assistant_once(
    session: Session, manager: Person, ines: Person
) -> None:
    snare = session.plan.inputs.get(label="Snare top")
    was, other = snare.unit.tag, next(o for o in offers_for(snare) if o.unit.startswith("D-"))
    after = swap(manager, snare.pk, unit=other.unit)
    assert after.unit.tag == other.unit
    assert other.unit in gear_of(session)
    assert was not in gear_of(session)
    fetch = [value for task in session.tasks.all() for _, value in task.details]
    assert any(other.unit in value for value in fetch)
    assert not any(was in value.split() for value in fetch)
    assert after.why[0] == f"{other.unit} was chosen by hand instead of {was}"
    assert session.plan.__class__.objects.get(session=session).status == "changed by hand"
    assert session.history.filter(words__contains=f"{other.unit} instead of {was}").count() == 1
    [notice] = Notice.objects.all()
    assert notice.person == ines
    notices.send_due()
    notices.send_due()
    [letter] = mail.outbox
    assert letter.to == [ines.email]
    assert f"Snare top: {other.unit} instead of {was}" in letter.body


@pytest.mark.django_db
def test_a_new_plan_keeps_what_was_chosen_and_says_so_where_it_can_not(
    session: Session, job: Job, hall: Room, manager: Person
) -> None:
    snare = session.plan.inputs.get(label="Snare top")
    free = next(o for o in offers_for(snare) if o.spot)
    chosen = swap(manager, snare.pk, spot=free.spot).preamp_channel
    session = Session.objects.with_all().get()
    longer = draft(job, hall, "lead vocal\nsnare top\nrack tom\nfloor tom")
    change(manager, session.pk, session.version, longer)
    row = PlannedInput.objects.get(label="Snare top")
    assert row.preamp_channel == chosen
    assert row.why[0] == f"{chosen} was chosen by hand"
    report_fault(manager, chosen.unit, chosen, Fault.Effect.DEAD)
    follow.replan_stale()
    row = PlannedInput.objects.get(label="Snare top")
    assert row.preamp_channel != chosen
    assert "was chosen by hand, but" in row.why[0]
    assert Pin.objects.count() == 1


@pytest.mark.django_db
def test_what_would_harm_or_is_not_free_is_refused_and_nothing_changes(
    session: Session, manager: Person, job: Job, hall: Room, ines: Person
) -> None:
    snare = session.plan.inputs.get(label="Snare top")
    with pytest.raises(NotSwapped, match="Box-1 won't do: input 2 wants mic"):
        swap(manager, snare.pk, unit="Box-1")
    out = report_fault(manager, tagged("D-3"), None, Fault.Effect.DEAD)
    before = gear_of(session)
    assert out.unit.tag == "D-3"
    with pytest.raises(NotSwapped, match="D-3 is not free for this session or does not work"):
        swap(manager, snare.pk, unit="D-3")
    with pytest.raises(PermissionDenied):
        swap(ines, snare.pk, unit="D-2")
    assert gear_of(session) == before
    assert not Pin.objects.exists()
    follow.replan(session.pk)
    with pytest.raises(NotSwapped, match="planned anew meanwhile"):
        swap(manager, snare.pk, unit="D-2")


@pytest.mark.django_db
def test_a_unit_says_which_sessions_rely_on_it_and_what_could_stand_in(
    session: Session, manager: Person
) -> None:
    snare = session.plan.inputs.get(label="Snare top")
    [use] = uses_of(snare.unit, None, manager)
    assert (use.session, use.input) == (session, snare)
    assert {offer.unit for offer in use.instead} <= set(GearUnit.objects.values_list("tag", flat=True))
    assert all(offer.unit for offer in use.instead)
    part = snare.preamp_channel
    [use] = uses_of(part.unit, part, manager)
    assert use.instead[0].spot
    free = next(
        c for c in part.unit.channels.all() if not PlannedInput.objects.filter(preamp_channel=c).exists()
    )
    assert uses_of(part.unit, free, manager) == []
    outsider = make_person(Role.ENGINEER, freelance=True)
    assert uses_of(snare.unit, None, outsider) == []
    assert Claim.objects.filter(resource=channel(part.unit, part.number).resource_id).exists()


@pytest.mark.django_db
def test_a_report_says_at_once_which_sessions_wanted_it(
    session: Session, client: Client, ines: Person
) -> None:
    snare = session.plan.inputs.get(label="Snare top")
    freelancer = make_person(Role.ENGINEER, freelance=True)
    for person, effect, told in (
        (freelancer, "crackles", False),
        (ines, "crackles", True),
        (ines, "dead", True),
    ):
        client.force_login(person)
        page = client.post(f"/gear/{snare.unit.tag}", {"effect": effect}, follow=True).content.decode()
        assert "Reported: " in page
        assert (f"It is wanted for {session.title}, " in page) is told
