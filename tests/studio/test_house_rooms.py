"""The house's forms for rooms, pairs of rooms, a site's rest and who is freelance."""

from __future__ import annotations

from datetime import time

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Person, Role, Room, RoomPair, Site
from tests.house import make_person, make_room, make_site

pytestmark = pytest.mark.django_db
ROOM = {
    "setup_minutes": 60,
    "turnaround_minutes": 45,
    "lines": 0,
    "recorder_inputs": 0,
    "people": 0,
    "order": 0,
}


@pytest.fixture
def desk() -> Client:
    client = Client()
    client.force_login(make_person(Role.MANAGER))
    return client


def post(client: Client, slug: str, pk: int | None = None, **data: object) -> object:
    address = reverse("studio:thing", args=[slug, pk]) if pk else reverse("studio:new_thing", args=[slug])
    return client.post(address, data)


def test_a_room_keeps_its_quiet_hours_and_whether_it_is_booked_by_itself(desk: Client) -> None:
    site = make_site()
    post(
        desk,
        "rooms",
        site=site.pk,
        name="Hall",
        quiet_from="22:00",
        quiet_until="07:00",
        bookable="on",
        **ROOM,
    )
    post(desk, "rooms", site=site.pk, name="Machine room", **ROOM)
    hall, machines = Room.objects.get(name="Hall"), Room.objects.get(name="Machine room")
    assert (hall.quiet_from, hall.quiet_until, hall.bookable) == (time(22), time(7), True)
    assert not machines.bookable
    assert (
        "shared, not booked by itself" in desk.get(reverse("studio:things", args=["rooms"])).content.decode()
    )


@pytest.mark.parametrize(
    ("hours", "sentence"),
    [
        ({"quiet_from": "22:00"}, "Give both hours, or neither."),
        ({"quiet_until": "07:00"}, "Give both hours, or neither."),
        ({"quiet_from": "22:00", "quiet_until": "22:00"}, "Give another hour than the first"),
        ({"quiet_from": "late", "quiet_until": "22:00"}, "Enter a valid time."),
    ],
)
def test_quiet_hours_that_make_no_sense_get_a_sentence(
    desk: Client, hours: dict[str, str], sentence: str
) -> None:
    answer = post(desk, "rooms", site=make_site().pk, name="Hall", **hours, **ROOM)
    assert answer.status_code == 422  # type: ignore[attr-defined]
    assert sentence in answer.content.decode()  # type: ignore[attr-defined]
    assert not Room.objects.exists()


def test_a_pair_of_rooms_is_kept_once_whichever_comes_first(desk: Client) -> None:
    hall, loom = make_room("Hall"), make_room("Loom")
    post(desk, "pairs", first=loom.pk, second=hall.pk, tie_lines=12, sight="on")
    pair = RoomPair.objects.get()
    assert (pair.first, pair.second, pair.words) == (hall, loom, "12 tie lines, sight, no cue feed")
    answer = post(desk, "pairs", first=hall.pk, second=loom.pk, tie_lines=3)
    assert "Hall and Loom are kept already: change that pair." in answer.content.decode()  # type: ignore[attr-defined]
    post(desk, "pairs", pair.pk, tie_lines=16, sound_carries="on")
    pair.refresh_from_db()
    assert (pair.first, pair.tie_lines, pair.sight, pair.sound_carries) == (hall, 16, False, True)
    page = desk.get(reverse("studio:things", args=["pairs"])).content.decode()
    assert "16 tie lines, no sight, no cue feed, sound carries" in page


def test_a_pair_that_makes_no_sense_gets_a_sentence(desk: Client) -> None:
    hall, pier = make_room("Hall"), make_room("Pier", make_site("Quay House"))
    for second, sentence in [
        (hall, "A pair needs two rooms."),
        (pier, "Pier is at Quay House, Hall at Mill Lane"),
    ]:
        answer = post(desk, "pairs", first=hall.pk, second=second.pk, tie_lines=0)
        assert sentence in answer.content.decode()  # type: ignore[attr-defined]
    assert post(desk, "pairs", first="9" * 25, second="x").status_code == 422  # type: ignore[attr-defined]
    assert not RoomPair.objects.exists()


def test_a_site_keeps_its_rule_of_rest_and_what_is_left_empty_stays(desk: Client) -> None:
    site = make_site()
    typed = {"name": site.name, "zone": site.zone, "rest_hours": "12", "cancel_steps": site.cancel_steps}
    post(desk, "sites", site.pk, **typed)
    assert (Site.objects.get().rest_hours, Site.objects.get().weekly_rest_hours) == (12, 35)
    answer = post(desk, "sites", site.pk, **(typed | {"rest_hours": "25"}))
    assert answer.status_code == 422  # type: ignore[attr-defined]


def test_somebody_is_marked_as_freelance(desk: Client) -> None:
    post(desk, "people", name="Ines", username="ines", roles=["engineer"], freelance="on", is_active="on")
    assert Person.objects.get(username="ines").freelance


def test_techs_keep_no_pairs() -> None:
    client = Client()
    client.force_login(make_person(Role.TECH))
    assert client.get(reverse("studio:things", args=["pairs"])).status_code == 403
