"""The list of all units: works and is free between two times, with a pad, with so many channels."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from studio.faults import report_fault, set_expected_back
from studio.models import Claim, Fault, GearModel, GearUnit, MicrophoneSpec, Role
from tests.house import (
    at,
    channel,
    make_many_units,
    make_mic,
    make_model,
    make_person,
    make_preamp,
    make_site,
    make_unit,
    span,
    take_gear,
)

pytestmark = pytest.mark.django_db
EVENING = "free_from=2027-03-02T18:00&free_until=2027-03-02T22:00"


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(at("2027-03-02 16:40"), tick=False) as traveller:
        yield traveller


@pytest.fixture(autouse=True)
def engineer(client: Client, frozen: time_machine.Traveller) -> None:
    client.force_login(make_person(Role.ENGINEER, site=make_site()))


def shown(client: Client, query: str) -> list[str]:
    response = client.get(f"/gear/all/?{query}")
    assert response.status_code == 200
    return [row.record.tag for row in response.context["table"].rows]


def test_works_and_free_between_two_times(client: Client) -> None:
    taken, broken = make_unit("A-taken"), make_unit("B-broken")
    make_unit("C-free")
    until, since = make_unit("D-until-then"), make_unit("E-from-then-on")
    held = make_unit("F-held")
    take_gear(taken, span("2027-03-02 21:59", "2027-03-02 23:00"))
    take_gear(until, span("2027-03-02 12:00", "2027-03-02 18:00"))
    take_gear(since, span("2027-03-02 22:00", "2027-03-02 23:00"))
    hold = take_gear(held, span("2027-03-02 19:00", "2027-03-02 20:00"))
    Claim.objects.filter(pk=hold.pk).update(firm=False)
    report_fault(make_person(Role.TECH), broken, None, Fault.Effect.DEAD)
    free = ["C-free", "D-until-then", "E-from-then-on", "F-held"]
    assert shown(client, f"state=works&{EVENING}") == shown(client, EVENING) == free
    assert shown(client, "state=works") == ["A-taken", *free]


def test_for_a_time_to_come_works_means_works_then_as_far_as_is_known(client: Client) -> None:
    """What is promised back before it is in doubt until it is here; what has no date stays out."""
    tech = make_person(Role.TECH)
    tags = {
        "A-fine": "",
        "B-back-friday": "2027-03-05 12:00",
        "C-back-later": "2027-03-08 12:00",
        "D-no-date": None,
    }
    for tag, back in tags.items():
        unit = make_unit(tag)
        if back != "":
            fault = report_fault(tech, unit, None, Fault.Effect.DEAD)
            set_expected_back(tech, fault, at(back) if back else None)
    saturday = "free_from=2027-03-06T10:00&free_until=2027-03-06T18:00"
    assert shown(client, f"{saturday}&state=works") == ["A-fine"]
    assert shown(client, f"{saturday}&state=usable") == ["A-fine", "B-back-friday"]
    assert shown(client, "state=out") == ["B-back-friday", "C-back-later", "D-no-date"]
    page = client.get(f"/gear/all/?{saturday}&state=usable").content.decode()
    assert "State then" in page
    assert "expected back before then" in page


def test_a_rack_is_free_while_one_of_its_channels_is(client: Client) -> None:
    rack, full = make_preamp("Oak", 2), make_preamp("Elm", 2)
    evening = span("2027-03-02 18:00", "2027-03-02 22:00")
    take_gear(channel(rack, 1), evening)
    take_gear(channel(full, 1), evening)
    report_fault(make_person(Role.TECH), full, channel(full, 2), Fault.Effect.DEAD)
    assert shown(client, EVENING) == ["Oak"]


def test_the_evening_is_one_of_the_clock_of_whoever_asks(client: Client) -> None:
    client.force_login(make_person(Role.ENGINEER, site=make_site("Far", "America/New_York")))
    take_gear(make_unit("U-1"), span("2027-03-02 20:00", "2027-03-02 21:00"))  # 14:00 in New York
    assert shown(client, EVENING) == ["U-1"]
    assert shown(client, "free_from=2027-03-02T14:30&free_until=2027-03-02T15:30") == []


def test_pads_and_channels(client: Client) -> None:
    make_mic("M-pad", MicrophoneSpec.Transducer.SMALL_CONDENSER, pad_db=10)
    make_mic("M-plain")
    make_preamp("P-2", 2)
    make_preamp("P-8", 8)
    make_unit("U-1")
    assert shown(client, "pad=yes") == ["M-pad"]
    assert shown(client, "pad=no") == ["M-plain", "P-2", "P-8", "U-1"]
    assert shown(client, "channels=2") == ["P-2", "P-8"]
    assert shown(client, "channels=3&pad=no&kind=preamp") == ["P-8"]


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("free_from=2027-03-02T18:00", "Say until when, too."),
        ("free_until=2027-03-02T18:00", "Say from when, too."),
        ("free_from=soon&free_until=2027-03-02T18:00", "“soon” is not a time."),
        ("free_from=2027-03-02T18:00&free_until=2027-03-02T18:00", "This is not after the time"),
        ("free_from=2027-03-28T02:30&free_until=2027-03-28T06:00", "The clocks skip 02:30"),
        ("channels=many", "Enter a number."),
        ("channels=-1", "greater than or equal to 0"),
        ("pad=maybe", "Select a valid choice"),
    ],
)
def test_what_cannot_be_filtered_by_gets_a_sentence_and_stays_in_its_field(
    client: Client, query: str, sentence: str
) -> None:
    make_unit("U-1")
    page = client.get(f"/gear/all/?{query}").content.decode()
    typed = query.partition("=")[2].partition("&")[0]
    assert sentence in page
    assert f'value="{typed}"' in page or typed == "maybe"


def test_filters_cost_the_same_queries_for_one_unit_and_for_many(client: Client) -> None:
    model = make_model(GearModel.Kind.COMPRESSOR)
    address = f"/gear/all/?q=n&pad=no&channels=0&{EVENING}&sort=-state"
    counts = []
    for amount in (1, 40):
        GearUnit.objects.all().delete()
        make_many_units(amount, model)
        client.get(address)
        with CaptureQueriesContext(connection) as asked:
            client.get(address)
        counts.append(len(asked))
    assert counts[0] == counts[1] < 20
