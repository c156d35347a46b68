"""Setting up the house by its forms, from an empty database to a planned room's worth of things."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.claims import Wanted, take
from studio.models import Claim, GearModel, GearUnit, Person, Role, Room, Site, Stock
from studio.spans import Span
from tests.house import make_person, make_room, make_site, make_stock, make_unit

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager_client() -> Client:
    client = Client()
    client.force_login(make_person(Role.MANAGER))
    return client


def post(client: Client, slug: str, pk: int | None = None, **data: object) -> object:
    address = reverse("studio:thing", args=[slug, pk]) if pk else reverse("studio:new_thing", args=[slug])
    return client.post(address, data)


def test_a_house_can_be_made_by_its_forms(manager_client: Client) -> None:
    post(manager_client, "sites", name="Mill Lane", zone="Europe/Berlin")
    site = Site.objects.get()
    room = {
        "setup_minutes": 60,
        "turnaround_minutes": 45,
        "lines": 16,
        "recorder_inputs": 16,
        "people": 8,
        "order": 0,
    }
    post(manager_client, "rooms", site=site.pk, name="Booth", **room)
    booth = Room.objects.get()
    post(manager_client, "rooms", site=site.pk, name="Hall", parts=[booth.pk], **room)
    assert {r.name for r in Room.objects.get(name="Hall").with_parts()} == {"Hall", "Booth"}
    post(manager_client, "models", kind="preamp", maker="Alder & Sons", name="Rack", channels=8)
    model = GearModel.objects.get()
    spec = {"switching": "per_bank", "bank_size": 4, "drain_seconds": 60, "gain_min_db": 0, "gain_max_db": 60}
    rack = {"kind": "preamp", "maker": "Alder & Sons", "name": "Rack", "channels": 8}
    post(
        manager_client, "models", model.pk, **rack, **{f"spec-{name}": value for name, value in spec.items()}
    )
    assert GearModel.objects.get().preamp.bank_size == 4
    post(manager_client, "units", gear_model=model.pk, tag="Oak", site=site.pk, home_room=booth.pk)
    assert GearUnit.objects.get().channels.count() == 8
    post(manager_client, "stock", site=site.pk, kind="stand", name="tall boom", count=6)
    assert Stock.objects.get().resource.capacity == 6


def test_a_person_added_by_the_manager_can_sign_in_with_the_roles_given(manager_client: Client) -> None:
    post(manager_client, "people", name="Ines Kaya", username="ines", roles=["assistant"], is_active="on",
         password="coil-it-the-house-way")  # fmt: skip
    ines = Person.objects.get(username="ines")
    assert ines.roles == {Role.ASSISTANT}
    assert Client().login(username="ines", password="coil-it-the-house-way")


def test_changing_a_person_without_a_new_password_keeps_the_old_one(manager_client: Client) -> None:
    ines = make_person(Role.ASSISTANT, password="coil-it-the-house-way")
    post(
        manager_client,
        "people",
        ines.pk,
        name="Ines K.",
        username=ines.username,
        roles=["tech"],
        is_active="on",
    )
    assert Client().login(username=ines.username, password="coil-it-the-house-way")
    assert Person.objects.get(pk=ines.pk).roles == {Role.TECH}


def test_a_room_can_not_become_part_of_itself_by_a_detour(manager_client: Client) -> None:
    booth = make_room("Booth")
    hall = make_room("Hall", parts=[booth])
    address = reverse("studio:thing", args=["rooms", booth.pk])
    answer = manager_client.post(address, {"site": booth.site_id, "name": "Booth", "parts": [hall.pk]})
    assert answer.status_code == 422
    assert "Hall is made of this room" in answer.content.decode()
    assert not booth.parts.exists()


def test_a_tag_that_differs_only_in_case_is_refused_with_what_was_typed_kept(manager_client: Client) -> None:
    unit = make_unit("Oak")
    answer = post(manager_client, "units", gear_model=unit.gear_model_id, tag="OAK", site=unit.site_id)
    assert answer.status_code == 422
    assert 'value="OAK"' in answer.content.decode()
    assert GearUnit.objects.count() == 1


def test_stock_can_not_be_counted_below_what_is_promised(manager_client: Client) -> None:
    stock, site = make_stock("tall boom", 6), make_site()
    soon = timezone.now() + timedelta(days=1)
    span = Span(soon, soon + timedelta(hours=8))
    take(site, [Wanted(stock.resource_id, span, Claim.Purpose.GEAR, "Choir", quantity=5)])
    answer = post(manager_client, "stock", stock.pk, site=site.pk, kind="stand", name="tall boom", count=4)
    assert "5 are promised to sessions at once" in answer.content.decode()
    assert Stock.objects.get().count == 6


@pytest.mark.parametrize("slug", ["sites", "rooms", "people"])
def test_a_tech_keeps_gear_but_does_not_set_up_the_house(slug: str) -> None:
    client = Client()
    client.force_login(make_person(Role.TECH))
    assert client.get(reverse("studio:things", args=["units"])).status_code == 200
    assert client.get(reverse("studio:things", args=[slug])).status_code == 403


def test_lists_ask_the_database_equally_often_however_long_they_are(
    manager_client: Client, django_assert_max_num_queries: object
) -> None:
    for _ in range(90):
        make_unit()
        make_person(Role.ASSISTANT)
    for slug in ("units", "people"):
        with django_assert_max_num_queries(8):
            assert manager_client.get(reverse("studio:things", args=[slug])).status_code == 200


def test_an_empty_house_begins_with_a_person_added_in_the_terminal(
    capsys: pytest.CaptureFixture[str],
) -> None:
    call_command("add_person", "mira", "Mira Lund", role=["manager"])
    said = capsys.readouterr().out
    password = re.search(r"with (\S+)", said)
    assert password
    assert Client().login(username="mira", password=password[1])
    with pytest.raises(CommandError, match="already exists"):
        call_command("add_person", "mira", "Mira Lund", role=["manager"])


def test_a_number_that_no_database_holds_is_refused_with_a_sentence(manager_client: Client) -> None:
    site = make_site()
    answer = post(manager_client, "rooms", site=site.pk, name="Hall", parts=["9" * 25])
    assert answer.status_code == 422
    assert not Room.objects.exists()
    for address in (f"/sessions/{'9' * 25}", f"/house/rooms/{'9' * 25}", f"/jobs/{'9' * 25}"):
        assert manager_client.get(address).status_code == 404


def test_numbers_beyond_any_use_are_refused_with_a_sentence(manager_client: Client) -> None:
    answer = post(manager_client, "rooms", site=make_site().pk, name="Hall", lines=2**63 - 1, order=-5)
    said = answer.content.decode()
    assert "At most 9999 fits here." in said
    assert "At least 0." in said


@pytest.mark.parametrize("changed", [{"roles": ["tech"], "is_active": "on"}, {"roles": ["manager"]}])
def test_the_last_manager_stays_one(manager_client: Client, changed: dict[str, object]) -> None:
    mira = Person.objects.get()
    answer = post(manager_client, "people", mira.pk, name=mira.name, username=mira.username, **changed)
    assert "make somebody else one first" in answer.content.decode()
    make_person(Role.MANAGER)
    answer = post(manager_client, "people", mira.pk, name=mira.name, username=mira.username, **changed)
    assert answer.status_code == 302
