"""A change under House reaches what is booked and planned, or is refused with the reason."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from bookings.booking import Draft, book, cancel
from bookings.models import Client as BookingClient
from bookings.models import Job, Session
from studio.claims import Wanted, release, take
from studio.models import Claim, GearUnit, Person, Phantom, Role, Room
from studio.spans import Span
from tests.house import make_mic, make_person, make_preamp, make_room, make_site, make_stock

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def manager() -> Person:
    return make_person(Role.MANAGER)


@pytest.fixture
def by_form(manager: Person) -> Client:
    client = Client()
    client.force_login(manager)
    return client


def booked(manager: Person, room: Room, title: str = "Vocals", text: str = "lead vocal") -> Session:
    client, _ = BookingClient.objects.get_or_create(name="Tin Harbour")
    job, _ = Job.objects.get_or_create(client=client, title="Record")
    start = timezone.now() + timedelta(days=1)
    draft = Draft(job.pk, room, title, start, start, start + timedelta(hours=3), instrument_list=text)
    return book(manager, draft)


def room_data(room: Room, **changed: Any) -> dict[str, Any]:
    names = ("name", "setup_minutes", "turnaround_minutes", "lines", "recorder_inputs", "people", "order")
    parts = [part.pk for part in room.parts.all()]
    return {name: getattr(room, name) for name in names} | {"site": room.site_id, "parts": parts} | changed


def unit_data(unit: GearUnit, **changed: Any) -> dict[str, Any]:
    return {
        "tag": unit.tag,
        "site": unit.site_id,
        "gear_model": unit.gear_model_id,
        "phantom": unit.phantom,
    } | changed


@pytest.fixture
def hall() -> Room:
    hall = make_room("Hall")
    make_preamp("Oak", 4, home_room=hall)
    make_mic("C-1", "large condenser", Phantom.NEEDS, max_spl_db=150)
    make_mic("C-2", "large condenser", Phantom.NEEDS, max_spl_db=150)
    make_stock("tall boom", 6)
    return hall


def test_a_room_that_gets_a_new_part_takes_it_for_what_is_booked_ahead(
    manager: Person, by_form: Client, hall: Room
) -> None:
    session, booth = booked(manager, hall), make_room("Booth")
    answer = by_form.post(reverse("studio:thing", args=["rooms", hall.pk]), room_data(hall, parts=[booth.pk]))
    assert answer.status_code == 302
    rooms = Claim.objects.of(session).filter(resource__kind="room")
    assert set(rooms.values_list("resource__name", flat=True)) == {"Hall", "Booth"}


def test_a_part_that_is_booked_by_itself_at_that_hour_can_not_be_added(
    manager: Person, by_form: Client, hall: Room
) -> None:
    booth = make_room("Booth")
    booked(manager, hall)
    booked(manager, booth, "Podcast")
    answer = by_form.post(reverse("studio:thing", args=["rooms", hall.pk]), room_data(hall, parts=[booth.pk]))
    assert answer.status_code == 422
    assert "Podcast" in answer.content.decode()
    assert not hall.parts.exists()


def test_a_booked_room_does_not_change_its_site(manager: Person, by_form: Client, hall: Room) -> None:
    booked(manager, hall)
    other = make_site("Far Quay", "Europe/Lisbon")
    by_form.post(reverse("studio:thing", args=["rooms", hall.pk]), room_data(hall, site=other.pk))
    hall.refresh_from_db()
    assert hall.site != other


def test_a_unit_that_may_no_longer_have_phantom_is_off_it_at_once(
    manager: Person, by_form: Client, hall: Room
) -> None:
    session = booked(manager, hall)
    unit = session.plan.inputs.get().unit
    answer = by_form.post(
        reverse("studio:thing", args=["units", unit.pk]), unit_data(unit, phantom=Phantom.MUST_NOT)
    )
    assert answer.status_code == 302
    planned = Session.objects.get(pk=session.pk).plan.inputs.get()
    assert (planned.unit, planned.phantom) != (unit, True)


def test_a_retired_unit_is_planned_around_at_once(manager: Person, by_form: Client, hall: Room) -> None:
    session = booked(manager, hall)
    unit = session.plan.inputs.get().unit
    by_form.post(reverse("studio:thing", args=["units", unit.pk]), unit_data(unit, retired="on"))
    planned = Session.objects.get(pk=session.pk).plan.inputs.get()
    assert (planned.unit != unit, planned.phantom) == (True, True)


def test_lines_that_a_room_no_longer_has_are_not_planned(
    manager: Person, by_form: Client, hall: Room
) -> None:
    session = booked(manager, hall, text="2 lead vocals")
    by_form.post(reverse("studio:thing", args=["rooms", hall.pk]), room_data(hall, lines=1))
    plan = Session.objects.get(pk=session.pk).plan
    assert [each.line for each in plan.inputs.all()] == [1]
    assert "line" in plan.unfilled.get().reason


def test_stands_counted_anew_are_planned_anew(manager: Person, by_form: Client, hall: Room) -> None:
    session = booked(manager, hall)
    stock = hall.site.stock.get()
    data = {"site": hall.site_id, "kind": "stand", "name": "tall boom", "count": 1}
    assert by_form.post(reverse("studio:thing", args=["stock", stock.pk]), data).status_code == 302
    assert Session.objects.get(pk=session.pk).plan.inputs.count() == 1


def test_a_cancelled_sessions_checklist_says_so(manager: Person, by_form: Client, hall: Room) -> None:
    session = booked(manager, hall)
    cancel(manager, session.pk, session.version, "ill")
    page = by_form.get(reverse("tasks:checklist", args=[session.pk])).content.decode()
    assert "<b>Cancelled.</b>" in page
    assert "No tasks yet" not in page


def test_somebody_who_is_still_called_does_not_leave_unnoticed(
    manager: Person, by_form: Client, hall: Room
) -> None:
    ines = make_person(Role.ASSISTANT)
    session = booked(manager, hall)
    ahead = Span(session.setup_at, session.clear_at)
    take(session, [Wanted(ines.resource_id, ahead, Claim.Purpose.CALL, "Vocals")])
    data = {"name": ines.name, "username": ines.username, "roles": ["assistant"]}
    address = reverse("studio:thing", args=["people", ines.pk])
    assert "Still called for “Vocals”" in by_form.post(address, data).content.decode()
    release(session, [Claim.Purpose.CALL])
    assert by_form.post(address, data).status_code == 302
