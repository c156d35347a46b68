"""Pages of where things are, the count of a room, and what is wrong with a room today."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from studio.faults import report_fault
from studio.models import Fault, GearUnit, Person, Role, Room, RoomNote, Stay
from studio.whereabouts import moves
from tests.bookings.cast import said
from tests.house import at, channel, make_mic, make_person, make_preamp, make_room, make_site, span, take_gear

pytestmark = pytest.mark.django_db

NOW = at("2027-03-02 16:40")


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def tech(client: Client) -> Person:
    person = make_person(Role.TECH, name="Tamsin", site=make_site())
    client.force_login(person)
    return person


@pytest.fixture
def hall() -> Room:
    return make_room("Weaving Hall")


@pytest.fixture
def mic(hall: Room) -> GearUnit:
    return make_mic("D-3", home_room=hall, storage="shelf 2")


@pytest.mark.usefixtures("tech")
def test_after_a_scan_one_press_says_it_is_here_and_the_room_is_remembered(
    client: Client, mic: GearUnit
) -> None:
    loft, other = make_room("Loft"), make_mic("D-4", home_room=mic.home_room)
    page = client.post(f"/u/{mic.pk}/here", {"room": loft.pk}, follow=True)
    assert "D-3 is in Loft." in said(page)
    assert "Moved last by Tamsin." in said(page)
    assert f'<option value="{loft.pk}" selected>' in client.get(f"/gear/{other.tag}").content.decode()


@pytest.mark.usefixtures("tech")
def test_a_refused_loan_keeps_what_was_typed_and_says_which_session_has_it(
    client: Client, mic: GearUnit
) -> None:
    take_gear(mic, span("2027-03-04 10:00", "2027-03-04 18:00"))
    typed = {"kind": "loan", "holder": "Tin Harbour", "due_at": "2027-03-05T12:00"}
    page = client.post(f"/u/{mic.pk}/lend", typed)
    assert page.status_code == 422
    assert "D-3 is taken: “Quartet and harmonium”" in said(page)
    assert 'value="Tin Harbour"' in page.content.decode()
    page = client.post(f"/u/{mic.pk}/lend", typed | {"due_at": "2027-03-04T09:00"}, follow=True)
    assert "lent to Tin Harbour since Tue 2 March, 16:40; due back Thu 4 March, 09:00" in said(page)
    assert "D-3 lent to Tin Harbour" in said(client.get("/away"))
    page = client.post(f"/u/{mic.pk}/due", {"due_at": "yesterday"})
    assert page.status_code == 422


@pytest.mark.usefixtures("tech")
def test_a_room_is_counted_by_scans_and_what_is_lost_is_raised(client: Client, mic: GearUnit) -> None:
    make_mic("D-4", home_room=mic.home_room)
    page = client.post(f"/rooms/{mic.home_room.pk}/count", follow=True)
    address = page.redirect_chain[-1][0]
    assert "Nothing has been scanned" in said(
        client.post(f"{address}/close", {"lost": [mic.pk]}, follow=True)
    )
    assert "Nothing was read" in said(client.post(address, {"text": " "}))
    page = client.post(address, {"text": f"http://desk.example/u/{mic.pk}\nmoth 9"})
    assert "2 read, last “moth 9”, a label that no unit has." in said(page)
    assert "1 here, 1 not scanned yet, 0 of another place, 1 extra." in said(page)
    lost = GearUnit.objects.get(tag="D-4")
    page = client.post(f"{address}/close", {"lost": [lost.pk, "x"], "stay": []}, follow=True)
    assert "D-4" in said(page)
    assert "missing since Tue 2 March, 16:40" in said(page)
    assert "closed" in said(client.get(address))
    assert "closed already" in said(client.post(f"{address}/close", follow=True))


def test_the_page_of_a_room_says_what_is_wrong_and_asks_the_database_as_often_for_many(
    client: Client, tech: Person, mic: GearUnit, hall: Room
) -> None:
    oak = make_preamp("Oak", 4, home_room=hall)
    report_fault(tech, oak, channel(oak, 3), Fault.Effect.NO_PHANTOM)
    client.post(f"/rooms/{hall.pk}/notes", {"kind": "stays", "words": "Talkback fed to the hall"})
    client.post(f"/rooms/{hall.pk}/notes", {"kind": "quirk", "words": "Box 7 hums with dimmers"})
    assert client.post(f"/rooms/{hall.pk}/notes", {"kind": "quirk", "words": ""}).status_code == 422
    moves.lend(tech, mic, Stay.Kind.HIRE_OUT, "Tin Harbour", None)
    address = f"/rooms/{hall.pk}/today"
    with CaptureQueriesContext(
        connection,
    ) as few:
        page = said(client.get(address))
    assert "Channel 3: no phantom since Tue 2 March, 16:40" in page
    assert "Stays as it is Talkback fed to the hall" in page
    assert "Known quirks Box 7 hums with dimmers" in page
    assert "D-3 hired out" in page
    for number in range(4):
        other = make_preamp(f"Elm {number}", 4, home_room=hall)
        report_fault(tech, other, channel(other, 1), Fault.Effect.NOISY)
    with CaptureQueriesContext(connection) as many:
        client.get(address)
    assert len(few) == len(many)
    client.post(f"/room-notes/{RoomNote.objects.get(kind='quirk').pk}/end")
    assert "hums" not in said(client.get(address)).replace("No longer so: Box 7 hums with dimmers", "")


@pytest.mark.usefixtures("tech")
def test_a_part_is_missed_and_found_by_a_press_on_the_unit_s_page(client: Client, mic: GearUnit) -> None:
    client.post(f"/u/{mic.pk}/parts", {"name": "supply", "needed": "on"})
    assert client.post(f"/u/{mic.pk}/parts", {"name": "Supply"}).status_code == 422
    part = mic.parts.get()
    page = said(client.post(f"/parts/{part.pk}/missing", follow=True))
    assert "Supply missing since Tue 2 March, 16:40" in page
    assert "“supply is missing”" in page
    assert "works" in said(client.post(f"/parts/{part.pk}/found", follow=True))
    assert client.post(f"/parts/{part.pk}/eaten").status_code == 404


def test_how_long_the_way_between_two_sites_takes_is_typed_once(client: Client) -> None:
    mill, quay = make_site(), make_site("Quay")
    client.force_login(make_person(Role.MANAGER, site=mill))
    name = f"minutes-{mill.pk}-{quay.pk}"
    page = client.post("/journeys", {name: "soon"})
    assert (page.status_code, "as a whole number" in said(page)) == (422, True)
    client.post("/journeys", {name: "45"})
    assert moves.travel_minutes(quay, mill) == moves.travel_minutes(mill, quay) == 45


@pytest.mark.usefixtures("tech")
def test_a_move_asked_for_stands_on_the_list_until_it_is_pressed(client: Client, mic: GearUnit) -> None:
    loft = make_room("Loft")
    typed = {"room": loft.pk, "leaves_at": "2027-03-02T18:00", "due_at": "2027-03-02T17:00"}
    page = client.post(f"/u/{mic.pk}/send", typed)
    assert page.status_code == 422
    assert "It is due back before it would be there." in said(page)
    page = client.post(f"/u/{mic.pk}/send", typed | {"due_at": ""}, follow=True)
    assert "D-3 to Loft, Mill Lane leaves Tue 2 March, 18:00; lives in Weaving Hall, shelf 2" in said(page)
    assert "D-3: to be brought to Loft, leaving Tue 2 March, 18:00." in said(page)
    assert "D-3 to Loft" in said(client.get("/away"))
    move = mic.moves.get()
    assert "D-3 is in Loft." in said(client.post(f"/moves/{move.pk}/done", follow=True))
    assert "somebody else has closed this" in said(client.post(f"/moves/{move.pk}/off", follow=True))
    page = client.post(f"/u/{mic.pk}/home", {"storage": "hook 4"}, follow=True)
    assert "Its home: Loft, hook 4." in said(page)
    assert client.post(f"/moves/{move.pk}/lost").status_code == 404


@pytest.mark.usefixtures("tech")
def test_while_a_room_is_counted_the_page_behind_a_label_counts_in_one_press(
    client: Client, hall: Room, mic: GearUnit
) -> None:
    press = "Count it in Weaving Hall"
    assert press not in said(client.get(f"/u/{mic.pk}", follow=True))
    count = client.post(f"/rooms/{hall.pk}/count").headers["Location"]
    client.get(count)
    assert press in said(client.get(f"/u/{mic.pk}", follow=True))
    page = client.post(count, {"text": f"/u/{mic.pk}"})
    assert "Read: D-3." in said(page)
    assert "1 here, 0 not scanned yet" in said(page)
    client.post(f"{count}/close")
    assert press not in said(client.get(f"/u/{mic.pk}", follow=True))
