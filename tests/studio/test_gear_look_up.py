"""What the look-up says: counted stock, where a thing is now, and the same in a terminal."""

from __future__ import annotations

import json
from collections.abc import Iterator
from io import StringIO

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from studio.claims import Wanted, take
from studio.faults import mend, report_fault
from studio.models import CableSpec, Claim, Fault, GearUnit, Role, Site, Stay, Stock
from tests.house import (
    at,
    channel,
    make_many_units,
    make_model,
    make_person,
    make_preamp,
    make_room,
    make_site,
    make_unit,
    span,
)

pytestmark = pytest.mark.django_db
NOW = at("2027-03-02 16:40")


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def engineer(client: Client, frozen: time_machine.Traveller) -> None:
    client.force_login(make_person(Role.ENGINEER, site=make_site()))


@pytest.fixture
def lines(db: None) -> Stock:
    stock = Stock.objects.create(site=make_site(), kind="cable", name="line 10 m", count=9, storage="hook 7")
    CableSpec.objects.create(stock=stock, ends="XLR", length_m=10, capacitance_pf_m=95)
    return stock


@pytest.fixture
def oak() -> GearUnit:
    oak = make_preamp("Oak", 4, home_room=make_room("Weaving Hall"))
    report_fault(make_person(Role.TECH), oak, channel(oak, 3), Fault.Effect.NO_PHANTOM)
    return oak


def wants(stock: Stock, quantity: int, start: str, end: str) -> None:
    when = span(start, end)
    take(
        Site.objects.create(name=f"Somebody {quantity}"),
        [Wanted(stock.resource_id, when, Claim.Purpose.SESSION, "Voice evening", quantity=quantity)],
    )


def typed(client: Client, query: str) -> str:
    page = client.get("/gear", {"q": query}, headers={"HX-Request": "true"}).content.decode()
    return " ".join(page.split())


def command(*arguments: str) -> str:
    out = StringIO()
    call_command("gear", *arguments, stdout=out)
    return out.getvalue()


@pytest.mark.usefixtures("engineer")
def test_counted_stock_says_how_many_are_free_within_the_hour_and_who_has_the_others(
    client: Client, lines: Stock
) -> None:
    wants(lines, 4, "2027-03-02 16:00", "2027-03-02 19:00")
    wants(lines, 3, "2027-03-02 17:30", "2027-03-02 19:00")
    wants(lines, 2, "2027-03-02 17:50", "2027-03-02 19:00")
    part = typed(client, "xlr")
    assert "2 of 9 free" in part
    assert "4 with “Voice evening”, Tue 2 March, 16:00 to 19:00" in part
    assert "2 with" not in part
    assert "XLR, 10 m, 95 pF a metre" in part
    assert "hook 7" in part
    assert "0 of 9" not in typed(client, "cabel 10m")


@pytest.mark.usefixtures("engineer")
def test_the_very_name_of_something_counted_is_not_hidden_behind_units(client: Client, lines: Stock) -> None:
    for number in range(13):
        make_unit(f"U-{number}", make_model(name=f"Line 10 m {number}"))
    part = typed(client, "line 10 m")
    assert "9 of 9 free" in part
    assert "13 more like" in part


@pytest.mark.usefixtures("engineer")
def test_what_is_away_is_where_it_was_taken_to_and_was_at_home_before(client: Client) -> None:
    unit = make_unit("U-1", home_room=make_room("Weaving Hall"), storage="shelf 3")
    Stay.objects.create(unit=unit, kind="loan", holder="Tin Harbour", began_at=at("2027-03-01 12:00"))
    assert "lent to Tin Harbour since Mon 1 March, 12:00" in typed(client, "u 1")
    assert "Weaving Hall, shelf 3" in command("U-1", "--at", "2027-03-01T11:59")
    assert "lent to Tin Harbour" in command("U-1")


@pytest.mark.usefixtures("engineer")
def test_what_it_had_before_is_said_with_it_and_not_before_it_was_over(
    client: Client, oak: GearUnit, frozen: time_machine.Traveller
) -> None:
    assert "earlier fault" not in typed(client, "oak 3")
    for outcome in ("new capacitor", "resoldered"):
        frozen.shift(3600)
        mend(make_person(Role.TECH), oak.faults.open().get(), outcome, heard=True)
        report_fault(make_person(Role.TECH), oak, channel(oak, 3), Fault.Effect.NOISY)
    assert "2 earlier faults, the last until Tue 2 March: resoldered" in typed(client, "oak 3")
    assert "earlier fault" not in typed(client, "oak 2")
    assert "  before 2 earlier faults" in command("oak")
    assert json.loads(command("oak", "--json", "--at", "2027-03-02T17:45"))["units"][0]["history"] == (
        "an earlier fault until Tue 2 March: new capacitor"
    )


@pytest.mark.usefixtures("engineer", "lines")
def test_the_look_up_costs_the_same_queries_however_many_it_finds(client: Client) -> None:
    counts = []
    for amount in (1, 60):
        for number in range(amount):
            make_unit(f"P-{amount}-{number}", make_model(name=f"Plover {amount} {number}"))
        typed(client, "plover")
        with CaptureQueriesContext(connection) as asked:
            typed(client, "plover")
        counts.append(len(asked))
    assert counts[0] == counts[1] < 20


def test_the_command_says_the_same_to_programs(oak: GearUnit, lines: Stock) -> None:
    said = json.loads(command("oak", "--json"))
    assert [(unit["tag"], unit["state"], unit["works"]) for unit in said["units"]] == [
        ("Oak", "works with a limit", False)
    ]
    assert [(c["first"], c["last"]) for c in said["units"][0]["channels"]] == [(1, 2), (3, 3), (4, 4)]
    assert said["units"][0]["where"] == "Weaving Hall"
    third = json.loads(command("oak", "3", "--json"))["units"][0]
    assert (third["channel"], third["state"], third["usable"]) == (
        3,
        "no phantom since Tue 2 March, 16:40",
        True,
    )
    before = json.loads(command("oak", "3", "--json", "--at", "2027-03-02T16:39"))
    assert before["units"][0]["works"] is True
    assert before["at"] == "2027-03-02T16:39:00+01:00"
    assert json.loads(command("xlr", "--json"))["stock"] == [
        {
            "name": "line 10 m",
            "kind": "cable",
            "site": "Mill Lane",
            "count": 9,
            "free": 9,
            "figures": "XLR, 10 m, 95 pF a metre",
            "where": "Mill Lane, hook 7",
            "with": [],
        }
    ]


def test_the_command_says_how_many_more_there_are_and_refuses_with_a_sentence() -> None:
    make_many_units(15, make_model(name="Plover"))
    assert "and 3 more" in command("plover")
    assert json.loads(command("plover", "--json"))["more"] == 3
    with pytest.raises(CommandError, match="Nothing here is called “zebra”"):
        command("zebra")
    with pytest.raises(CommandError, match="“soon” is not a time"):
        command("plover", "--at", "soon")
