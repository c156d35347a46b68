"""Gear pages as people meet them: the look-up, one unit, all units, and the command that says the same."""

from __future__ import annotations

from collections.abc import Iterator
from io import StringIO

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from studio import faults
from studio.faults import report_fault
from studio.models import Fault, GearModel, GearUnit, MicrophoneSpec, Person, Phantom, Role, Stay
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


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def engineer(client: Client) -> Person:
    person = make_person(Role.ENGINEER, site=make_site())
    client.force_login(person)
    return person


@pytest.fixture
def oak() -> GearUnit:
    unit = make_preamp("Oak", 8, home_room=make_room("Weaving Hall"), storage="machine rack")
    fault = report_fault(make_person(Role.TECH), unit, channel(unit, 3), Fault.Effect.NO_PHANTOM)
    faults.set_expected_back(make_person(Role.TECH), fault, at("2027-03-08 12:00"))
    return unit


def text(client: Client, address: str, **headers: str) -> str:
    response = client.get(address, headers=headers)
    assert response.status_code == 200, (address, response.status_code)
    return " ".join(response.content.decode().split())


@pytest.mark.usefixtures("engineer", "oak")
def test_the_name_of_a_channel_opens_the_answer_at_once(client: Client) -> None:
    response = client.get("/gear?q=oak+3")
    assert (response.status_code, response["Location"]) == (302, "/gear/Oak?channel=3")
    page = text(client, response["Location"])
    assert "no phantom since Tue 2 March, 16:40" in page
    assert "expected back Mon 8 March, 12:00" in page
    assert "Weaving Hall, machine rack" in page
    assert page.count(">work<") == 2  # channels 1–2 and 4–8, joined


@pytest.mark.usefixtures("engineer", "oak")
def test_while_typing_only_the_answers_come(client: Client) -> None:
    part = text(client, "/gear?q=oak+3", **{"HX-Request": "true"})
    assert "<html" not in part
    assert "Oak, channel 3" in part
    assert "no phantom since Tue 2 March, 16:40" in part


@pytest.mark.usefixtures("engineer", "oak")
def test_going_back_in_the_history_gets_the_whole_page(client: Client) -> None:
    headers = {"HX-Request": "true", "HX-History-Restore-Request": "true"}
    assert "<html" in text(client, "/gear?q=ribbon", **headers)


@pytest.mark.usefixtures("engineer")
def test_who_has_it_and_when_it_is_free(client: Client, oak: GearUnit) -> None:
    take_gear(channel(oak, 6), span("2027-03-02 16:00", "2027-03-02 19:00"), "Voice evening")
    take_gear(channel(oak, 6), span("2027-03-02 19:30", "2027-03-02 22:00"), "Brass band")
    part = text(client, "/gear?q=oak+6", **{"HX-Request": "true"})
    assert "“Voice evening”, Tue 2 March, 16:00 to 19:00 (in use)" in part
    assert "next free Tue 2 March, 22:00" in part  # half an hour in between is no use
    whole = text(client, "/gear/Oak")
    assert "channel 6: “Voice evening”" in whole
    assert "7 other channels are free" in whole.lower()


@pytest.mark.usefixtures("engineer")
def test_another_time_is_answered_for_that_time(client: Client, oak: GearUnit) -> None:
    take_gear(channel(oak, 3), span("2027-03-09 10:00", "2027-03-09 19:00"), "Choir")
    part = text(client, "/gear?q=oak+3&at=2027-03-09T11:00", **{"HX-Request": "true"})
    assert "As of Tue 9 March, 11:00" in part
    assert "expected back before then: Mon 8 March, 12:00" in part
    assert "“Choir”, Tue 9 March, 10:00 to 19:00" in part
    assert "at=2027-03-09T11" in client.get("/gear?q=oak+3&at=2027-03-09T11:00")["Location"]
    assert "works" in text(client, "/gear/Oak?channel=3&at=2027-03-01T11:00")


@pytest.mark.usefixtures("engineer", "oak")
@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("soon", "“soon” is not a time. Write a day and an hour"),
        ("2027-03-02", "does not say which hour"),
        ("0001-01-01T00:00", "does not say which hour"),
        ("2027-03-28T02:30", "The clocks skip 02:30 on that day"),
    ],
)
def test_a_time_that_is_none_gets_a_sentence_and_stays_in_the_box(
    client: Client, typed: str, sentence: str
) -> None:
    for address in (f"/gear?q=oak&at={typed}", f"/gear/Oak?at={typed}"):
        page = text(client, address)
        assert sentence in page
        assert f'value="{typed}"' in page


@pytest.mark.usefixtures("engineer", "oak")
@pytest.mark.parametrize("query", ["zebra", "%", "<script>alert(1)</script>", "x" * 101])
def test_a_query_without_an_answer_says_what_to_try(client: Client, query: str) -> None:
    page = text(client, f"/gear?q={query.replace('%', '%25')}")
    assert "<script>alert" not in page
    assert "Nothing here is called" in page or "at most 100" in page


@pytest.mark.usefixtures("engineer")
def test_a_tag_in_other_spelling_leads_to_the_unit_and_an_unknown_one_is_not_found(
    client: Client, oak: GearUnit
) -> None:
    make_unit("Box 7/B %1")
    assert client.get("/gear/oak")["Location"].startswith("/gear/Oak")
    assert "Box 7/B %1" in text(client, "/gear/Box%207/B%20%251")
    assert client.get("/gear/nothing").status_code == 404


@pytest.mark.usefixtures("engineer")
def test_equals_work_and_are_free_and_the_nearest_stands_first(client: Client, oak: GearUnit) -> None:
    take_gear(channel(oak, 1), span("2027-03-02 18:00", "2027-03-02 19:00"))
    make_preamp("Elm", 2)
    make_preamp("Far", 2, site=make_site("Quay House"))
    broken = make_preamp("Ash", 2)
    report_fault(make_person(Role.TECH), broken, None, Fault.Effect.DEAD)
    page = text(client, "/gear/Oak?channel=3").partition("Equals")[2].partition("Report something")[0]
    found = [
        name for name in ("Oak channel 1<", "Oak channel 2<", "Elm channel 1<", "Ash", "Far") if name in page
    ]
    assert found == ["Oak channel 2<", "Elm channel 1<"]
    assert page.index("Oak channel 2<") < page.index("Elm channel 1<")


@pytest.mark.usefixtures("engineer")
def test_a_ribbon_is_no_equal_of_a_condenser(client: Client) -> None:
    make_mic("R-1", MicrophoneSpec.Transducer.RIBBON)
    make_mic("R-2", MicrophoneSpec.Transducer.RIBBON)
    make_mic("C-1", MicrophoneSpec.Transducer.LARGE_CONDENSER)
    page = text(client, "/gear/R-1").partition("Equals")[2]
    assert "R-2" in page
    assert "C-1" not in page


def test_a_report_takes_two_fields(client: Client, engineer: Person, oak: GearUnit) -> None:
    five = channel(oak, 5)
    response = client.post("/gear/Oak", {"effect": "dead", "channel": five.pk}, follow=True)
    fault = Fault.objects.get(channel=five)
    assert (fault.severity, fault.reported_by, fault.since) == (Fault.Severity.OUT, engineer, NOW)
    assert "Reported: Oak channel 5: does not work at all, out of use." in response.content.decode()


@pytest.mark.usefixtures("engineer")
@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({}, "Press what is wrong; the nearest is enough."),
        ({"effect": "haunted"}, "Choose one of the list."),
        ({"effect": "dead", "channel": "999999"}, "This unit has no such channel."),
        ({"effect": "dead", "channel": "x"}, "This unit has no such channel."),
        ({"effect": "dead", "severity": "awful"}, "Choose one of the list."),
        ({"effect": "dead", "words": "é" * 301}, "Say it in 300 letters or fewer; these are 301."),
    ],
)
def test_a_wrong_report_gets_a_sentence_keeps_the_words_and_stores_nothing(
    client: Client, sent: dict[str, str], sentence: str
) -> None:
    make_preamp("Elm", 2)
    response = client.post("/gear/Elm", {"words": "hums at night", **sent})
    page = response.content.decode()
    assert response.status_code == 422
    assert sentence in page
    assert sent.get("words", "hums at night") in page
    assert not Fault.objects.exists()


def test_somebody_without_a_role_sees_and_reports_nothing(client: Client, oak: GearUnit) -> None:
    client.force_login(make_person())
    for address in ("/gear", "/gear/all/", "/gear/Oak"):
        response = client.get(address)
        assert response.status_code == 403
        assert "can look up gear" in response.content.decode()
    before = Fault.objects.count()
    assert client.post("/gear/Oak", {"effect": "dead"}).status_code == 403
    assert Fault.objects.count() == before


def test_without_a_sign_in_every_gear_page_leads_to_it(client: Client, oak: GearUnit) -> None:
    for address in ("/gear", "/gear/all/", "/gear/Oak"):
        assert client.get(address)["Location"].startswith("/sign-in")


@pytest.fixture
def stock(oak: GearUnit) -> None:
    make_mic(
        "R-1", MicrophoneSpec.Transducer.RIBBON, phantom=Phantom.MUST_NOT, home_room=make_room("Dye Room")
    )
    make_mic("C-1", MicrophoneSpec.Transducer.LARGE_CONDENSER, phantom=Phantom.NEEDS)
    make_unit("K-1")
    gone = make_unit("Gone")
    gone.retired = True
    gone.save()
    report_fault(make_person(Role.TECH), GearUnit.objects.get(tag="K-1"), None, Fault.Effect.DEAD)


@pytest.mark.usefixtures("engineer", "stock")
@pytest.mark.parametrize(
    ("query", "expected"),
    [
        ("", ["C-1", "K-1", "Oak", "R-1"]),
        ("kind=microphone", ["C-1", "R-1"]),
        ("phantom=must_not", ["R-1"]),
        ("state=works", ["C-1", "R-1"]),
        ("state=out", ["K-1"]),
        ("state=faults", ["K-1", "Oak"]),
        ("state=limited", ["Oak"]),
        ("q=ribbon", ["R-1"]),
        ("q=ribbon&kind=preamp", []),
        ("sort=-tag", ["R-1", "Oak", "K-1", "C-1"]),
        ("sort=state", ["K-1", "Oak", "C-1", "R-1"]),
        ("sort=kind", ["K-1", "C-1", "R-1", "Oak"]),
        ("sort=nonsense&page=99&kind=nonsense", ["C-1", "K-1", "Oak", "R-1"]),
    ],
)
def test_the_list_filters_and_sorts(client: Client, query: str, expected: list[str]) -> None:
    response = client.get(f"/gear/all/?{query}")
    assert response.status_code == 200
    assert [row.record.tag for row in response.context["table"].paginated_rows] == expected


@pytest.mark.usefixtures("engineer", "stock")
def test_the_list_filters_by_room_and_sorts_by_every_column(client: Client) -> None:
    room = GearUnit.objects.get(tag="R-1").home_room_id
    rows = client.get(f"/gear/all/?room={room}").context["table"].paginated_rows
    assert [row.record.tag for row in rows] == ["R-1"]
    for column in ("tag", "state", "kind", "model", "channels", "phantom", "where"):
        for sign in ("", "-"):
            assert client.get(f"/gear/all/?sort={sign}{column}").status_code == 200


@pytest.mark.usefixtures("engineer", "stock")
def test_two_thousand_units_take_no_more_queries_than_a_few(client: Client) -> None:
    model = make_model(GearModel.Kind.COMPRESSOR, "Model Many")
    make_many_units(20, model)
    few = count_queries(client)
    GearUnit.objects.filter(tag__startswith="N-").delete()
    make_many_units(2000, model)
    assert count_queries(client) == few


def count_queries(client: Client) -> dict[str, int]:
    counts = {}
    for address in ("/gear", "/gear?q=many", "/gear/all/", "/gear/all/?state=works&sort=state", "/gear/K-1"):
        client.get(address)  # the index is built once
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        counts[address] = len(queries)
    return counts


def said(*arguments: str) -> str:
    out = StringIO()
    call_command("gear", *arguments, stdout=out)
    return out.getvalue()


def test_the_terminal_says_the_same(oak: GearUnit) -> None:
    take_gear(channel(oak, 3), span("2027-03-02 16:00", "2027-03-02 19:00"), "Voice evening")
    answer = said("oak", "3")
    assert "state  no phantom since Tue 2 March, 16:40" in answer
    assert "where  Weaving Hall, machine rack" in answer
    assert "with   “Voice evening”, Tue 2 March, 16:00 to 19:00" in answer
    assert "next free Tue 2 March, 19:00" in answer
    assert "1–2  work" in said("oak")
    assert "expected back before then" in said("oak 3", "--at", "2027-03-09T10:00")


@pytest.mark.usefixtures("oak")
def test_the_terminal_refuses_in_a_sentence() -> None:
    with pytest.raises(CommandError, match="Nothing here is called “zebra”"):
        said("zebra")
    with pytest.raises(CommandError, match="is not a time"):
        said("oak", "--at", "soon")


@pytest.mark.usefixtures("engineer")
def test_what_is_out_says_that_it_is_with_the_repair(client: Client, oak: GearUnit) -> None:
    report_fault(make_person(Role.TECH), oak, channel(oak, 7), Fault.Effect.DEAD, words="no lamp")
    part = text(client, "/gear?q=oak+7", **{"HX-Request": "true"})
    assert "out for repair, from Tue 2 March, 16:40, end not known" in part
    assert "not free before a return date is known" in part


def test_a_channel_of_a_unit_that_is_taken_as_a_whole_is_not_called_free(
    engineer: Person, client: Client
) -> None:
    make_preamp("Elm", 4)
    take_gear(GearUnit.objects.get(tag="Elm"), span("2027-03-02 15:00", "2027-03-02 19:00"), "Voices")
    page = text(client, "/gear/Elm?channel=2")
    assert "Voices" in page
    assert "next free" in page.lower()
    assert "nothing booked" not in page


@pytest.mark.usefixtures("engineer")
def test_the_head_of_the_page_says_where_it_is_and_not_only_where_it_lives(client: Client) -> None:
    hall, loft = make_room("Weaving Hall"), make_room("Loft")
    mic = make_mic("R-77", home_room=hall)
    Stay.objects.create(unit=mic, kind=Stay.Kind.ROOM, room=loft, began_at=at("2027-03-02 12:00"))
    now = text(client, "/gear/R-77")
    assert "<b>Loft" in now
    assert "lives in Weaving Hall" in now
    before = text(client, "/gear/R-77?at=2027-03-01T12:00")
    assert "its home as it is today" in before
    assert "<b>Loft" not in before
