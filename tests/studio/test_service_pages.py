"""Service plans on pages: what falls due stands on the bench, a press takes a slot, a wrong press gets a sentence."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from html import unescape
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from studio.models import Claim, Fault, GearModel, GearUnit, Person, Role, ServiceDone, ServicePlan
from tests.house import at, make_mic, make_model, make_person, make_stock, make_unit, span, take_gear

pytestmark = pytest.mark.django_db
NOW = at("2027-03-02 09:00")


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def tech(client: Client) -> Person:
    person = make_person(Role.TECH, name="Bo Lind")
    client.force_login(person)
    return person


@pytest.fixture
def mic(tech: Person) -> GearUnit:
    return make_mic("R-1")


def plan_of(**fields: Any) -> ServicePlan:
    values = {
        "what": "Look at the ribbon",
        "every_days": 30,
        "minutes": 60,
        "starts_on": date(2027, 1, 1),
        **fields,
    }
    return ServicePlan.objects.create(**values)


def words(client: Client, address: str, **sent: str) -> str:
    response = client.post(address, sent, follow=True) if sent else client.get(address)
    return " ".join(unescape(response.content.decode()).split())


def typed(**changed: str) -> dict[str, str]:
    values = {"what": "New valve", "unit_tag": "r-1", "every_hours": "800", "minutes": "45"}
    return {**values, "starts_on": "2027-03-01", **changed}


def test_what_falls_due_stands_on_the_bench_and_a_press_takes_the_gap(client: Client, mic: GearUnit) -> None:
    plan = plan_of(unit=mic)
    take_gear(mic, span("2027-03-02 10:00", "2027-03-02 15:00"))
    page = words(client, "/bench")
    assert "R-1: Look at the ribbon" in page
    assert "Every 30 days, counted from Fri 1 January; due since Sun 31 January." in page
    assert "Free for 60 min from Tue 2 March, 15:00." in page
    offered = page.partition('name="start" value="')[2].partition('"')[0]
    page = words(client, f"/bench/service/{plan.pk}/unit-{mic.pk}/slot", start=offered)
    assert "To be done Tue 2 March, 15:00 to 16:00." in page
    assert Claim.objects.of(plan).get().starts == at("2027-03-02 15:00")
    assert "being serviced" in words(client, "/gear/R-1?at=2027-03-02T15:30")


def test_another_time_is_refused_on_top_of_a_session_and_what_was_typed_stays(
    client: Client, mic: GearUnit
) -> None:
    plan = plan_of(unit=mic)
    take_gear(mic, span("2027-03-03 10:00", "2027-03-03 15:00"), "Quartet")
    address = f"/bench/service/{plan.pk}/unit-{mic.pk}/slot"
    for start, sentence in [
        ("2027-03-03T14:30", "R-1 is taken then: “Quartet”"),
        ("2027-03-02T08:30", "That time is past."),
        ("soon", "“soon” is not a time."),
    ]:
        response = client.post(address, {"start": start})
        assert response.status_code == 422
        assert sentence in response.content.decode()
        assert f'value="{start}"' in response.content.decode()
    assert client.post(address, {}).status_code == 422
    assert not Claim.objects.of(plan).exists()


def test_a_slot_is_given_up_and_doing_it_leaves_a_record_with_its_hours(
    client: Client, mic: GearUnit
) -> None:
    plan = plan_of(unit=mic, every_hours=5)
    take_gear(mic, span("2027-02-20 10:00", "2027-02-20 18:00"))
    address = f"/bench/service/{plan.pk}/unit-{mic.pk}"
    words(client, f"{address}/slot", start="2027-03-03T10:00")
    assert "it is still due" in words(client, f"{address}/no-slot", press="1")
    assert not Claim.objects.of(plan).exists()
    page = words(client, f"{address}/done", note="new ribbon", result="passed")
    assert "counted anew from now on" in page
    assert "Falls due" not in page
    assert "Bo Lind · after 8 hours of use: new ribbon" in words(client, address)


def test_an_electrical_test_shows_the_caution_wants_a_record_and_takes_out_what_fails(
    client: Client, tech: Person
) -> None:
    amp = make_unit("Amp", make_model(GearModel.Kind.AMPLIFIER))
    plan = plan_of(what="Electrical safety test", unit=amp, electrical=True)
    address = f"/bench/service/{plan.pk}/unit-{amp.pk}"
    for page in (words(client, "/bench"), words(client, address)):
        assert "Only a competent person inspects and tests, by the local rules" in page
    assert "Say who tested it" in words(client, f"{address}/done", result="passed")
    assert "stays due until it has passed" in words(
        client, f"{address}/done", result="failed", note="loose earth"
    )
    assert Fault.objects.get().severity == Fault.Severity.OUT
    assert not ServiceDone.objects.exists()


def test_a_plan_is_made_from_a_tag_shown_in_the_list_changed_and_ended(client: Client, mic: GearUnit) -> None:
    assert "New valve: R-1 is saved." in words(client, "/bench/service/new", **typed())
    plan = ServicePlan.objects.get()
    assert (plan.unit, plan.every_hours, plan.minutes) == (mic, 800, 45)
    assert "0 of 800 hours of use" in words(client, "/bench/service")
    form = client.get(f"/bench/service/{plan.pk}").content.decode()
    assert 'value="R-1"' in form
    words(client, f"/bench/service/{plan.pk}", **typed(ended="on"))
    plan.refresh_from_db()
    assert plan.ended
    assert client.get(f"/bench/service/{plan.pk}/unit-{mic.pk}").status_code == 404


def test_a_plan_for_a_model_or_a_stock(client: Client, mic: GearUnit) -> None:
    cables = make_stock("10 m cable", 40)
    model = str(mic.gear_model_id)
    words(client, "/bench/service/new", **typed(unit_tag="", gear_model=model))
    words(
        client,
        "/bench/service/new",
        **typed(unit_tag="", stock=str(cables.pk), every_hours="", every_days="365"),
    )
    assert [plan.thing for plan in ServicePlan.objects.order_by("pk")] == [mic.gear_model, cables]


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"what": ""}, "Say what is done"),
        ({"unit_tag": "R-9"}, "No unit is called “R-9”."),
        ({"unit_tag": ""}, "Say what it is for: one unit, or a model, or a counted stock."),
        ({"gear_model": "model"}, "Say what it is for: one unit, or a model, or a counted stock."),
        ({"every_hours": ""}, "Say when it falls due"),
        ({"every_hours": "0"}, "At least 1; leave it empty where it doesn't count."),
        ({"every_hours": "often"}, "Write a whole number."),
        ({"every_days": "9" * 30}, "At most 3660 fits here."),
        ({"minutes": ""}, "Say how many minutes it takes."),
        ({"starts_on": "spring"}, "Write the day like 2027-03-02."),
        ({"unit_tag": "", "stock": "stock"}, "A counted stock has no hours of its own"),
    ],
)
def test_a_plan_that_makes_no_sense_gets_a_sentence_and_is_not_made(
    client: Client, mic: GearUnit, changed: dict[str, str], sentence: str
) -> None:
    keys = {"model": mic.gear_model_id, "stock": make_stock("10 m cable").pk}
    sent = {name: str(keys.get(value, value)) for name, value in typed(**changed).items()}
    response = client.post("/bench/service/new", sent)
    assert response.status_code == 422
    assert sentence in unescape(response.content.decode())
    assert not ServicePlan.objects.exists()


def test_a_plan_that_is_changed_to_something_else_gives_its_slot_back(client: Client, mic: GearUnit) -> None:
    plan = plan_of(unit=mic)
    words(client, f"/bench/service/{plan.pk}/unit-{mic.pk}/slot", start="2027-03-03T10:00")
    words(client, f"/bench/service/{plan.pk}", **typed(what="Other words", minutes="60"))
    assert Claim.objects.of(plan).exists()
    make_mic("R-2")
    words(client, f"/bench/service/{plan.pk}", **typed(unit_tag="R-2", minutes="60"))
    assert not Claim.objects.of(plan).exists()


def test_service_pages_are_for_the_bench_and_unknown_things_are_not_found(
    client: Client, mic: GearUnit
) -> None:
    plan = plan_of(unit=mic)
    one = f"/bench/service/{plan.pk}/unit-{mic.pk}"
    for address in (f"/bench/service/{plan.pk}/unit-0", "/bench/service/99", "/bench/service/99/unit-1"):
        assert client.get(address).status_code == 404
    client.force_login(make_person(Role.ENGINEER))
    for address in ("/bench/service", "/bench/service/new", f"/bench/service/{plan.pk}", one):
        assert client.get(address).status_code == 403
    for what in ("slot", "no-slot", "done"):
        assert client.post(f"{one}/{what}").status_code == 403


def test_the_bench_asks_no_more_for_many_services_than_for_few(client: Client, tech: Person) -> None:
    model, counts = make_model(), []
    plan_of(gear_model=model)
    for amount in (2, 20):
        for number in range(amount):
            make_unit(f"C-{amount}-{number}", model)
        with CaptureQueriesContext(connection) as queries:
            client.get("/bench")
            client.get("/bench/service")
        counts.append(len(queries))
    assert counts[0] == counts[1]
