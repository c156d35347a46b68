"""The bench page: what is mended first and why, and what its presses do."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from studio.bench.queue import queue
from studio.faults import mend, report_fault
from studio.models import Claim, Fault, GearUnit, Person, Role
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

NOW = at("2027-03-02 16:40")
Effect, Severity, Step = Fault.Effect, Fault.Severity, Fault.Step


@pytest.fixture(autouse=True)
def frozen() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def tech(client: Client) -> Person:
    person = make_person(Role.TECH, name="Bo Lind")
    client.force_login(person)
    return person


@pytest.fixture
def fault(tech: Person) -> Fault:
    oak = make_preamp("Oak", 4)
    return report_fault(tech, oak, channel(oak, 3), Effect.NO_PHANTOM, words="dead at noon")


def press(client: Client, fault: Fault, what: str, **sent: str) -> str:
    response = client.post(f"/bench/{fault.pk}/{what}", sent, follow=True)
    fault.refresh_from_db()
    return " ".join(response.content.decode().split())


def test_what_is_needed_soonest_stands_first_and_says_why(tech: Person) -> None:
    model = make_model()
    later, sooner, spare = make_unit("Later", model), make_unit("Sooner", model), make_unit("Spare", model)
    idle = make_mic("Idle")
    take_gear(later, span("2027-03-09 10:00", "2027-03-09 19:00"), "Choir")
    take_gear(sooner, span("2027-03-03 10:00", "2027-03-03 19:00"), "Quartet")
    for unit, days in [(idle, 9), (later, 3), (sooner, 0)]:
        report_fault(tech, unit, None, Effect.NOISY, since=NOW - timedelta(days=days))
    jobs = queue()
    assert [job.fault.unit.tag for job in jobs] == ["Sooner", "Later", "Idle"]
    assert [job.reason for job in jobs] == [
        "next needed Wed 3 March, 10:00, “Quartet”; 1 other of its model works; reported less than a day ago",
        "next needed Tue 9 March, 10:00, “Choir”; 1 other of its model works; known for 3 days",
        "nothing is booked on it; no other of its model works; known for 9 days",
    ]
    spare.delete()
    assert "no other of its model works" in queue()[0].reason


def test_of_two_that_nobody_booked_the_one_without_a_spare_then_the_older_stands_first(tech: Person) -> None:
    model = make_model()
    for tag in ("With spare", "The spare"):
        make_unit(tag, model)
    for tag, days in [("With spare", 30), ("Young", 1), ("Old", 20)]:
        unit = GearUnit.objects.filter(tag=tag).first() or make_unit(tag)
        report_fault(tech, unit, None, Effect.DEAD, since=NOW - timedelta(days=days))
    assert [job.fault.unit.tag for job in queue()] == ["Old", "Young", "With spare"]


def test_a_session_that_runs_now_is_needed_now(tech: Person, fault: Fault) -> None:
    take_gear(channel(fault.unit, 3), span("2027-03-02 10:00", "2027-03-02 19:00"), "Quartet")
    assert queue()[0].reason.startswith("next needed now, “Quartet”")


def test_the_page_shows_the_fault_its_words_and_the_caution(client: Client, fault: Fault) -> None:
    page = client.get("/bench").content.decode()
    for words in ("Oak, channel 3", "no phantom", "dead at noon", "Bo Lind", "Mains and valve gear can kill"):
        assert words in page


def test_presses_move_a_fault_to_the_bench_away_and_back_to_service(client: Client, fault: Fault) -> None:
    assert "Oak channel 3 is on the bench." in press(client, fault, "on-the-bench")
    assert (fault.step, fault.severity) == (Step.ON_BENCH, Severity.OUT)
    assert "is away for repair" in press(client, fault, "away")
    assert fault.step == Step.AWAY
    assert Claim.objects.get().ends is None
    assert "Expected back Mon 8 March, 12:00" in press(
        client, fault, "expected-back", back="2027-03-08T12:00"
    )
    assert fault.expected_back == at("2027-03-08 12:00")
    assert "is usable with a limit" in press(client, fault, "how-bad", severity="limited")
    assert not Claim.objects.exists()
    assert "is mended and free again" in press(client, fault, "mended", outcome="new transistor")
    assert fault.outcome == "new transistor"
    assert "Nothing is broken" in client.get("/bench").content.decode()
    assert "new transistor" in client.get("/gear/Oak").content.decode()


def test_the_date_is_read_on_the_clock_of_the_site(client: Client, tech: Person) -> None:
    mic = make_mic(site=make_site("Quay House", "Europe/Lisbon"))
    fault = report_fault(tech, mic, None, Effect.DEAD)
    press(client, fault, "expected-back", back="2027-03-08T12:00")
    assert fault.expected_back == at("2027-03-08 13:00")  # noon in Lisbon is one o'clock in Berlin
    assert 'value="2027-03-08T12:00"' in client.get("/bench").content.decode()


def test_of_an_hour_that_comes_twice_the_later_one_is_promised(client: Client, fault: Fault) -> None:
    press(client, fault, "expected-back", back="2027-10-31T02:30")
    assert fault.expected_back is not None
    assert fault.expected_back.isoformat() == "2027-10-31T01:30:00+00:00"


@pytest.mark.parametrize(
    ("what", "sent", "sentence"),
    [
        ("mended", {}, "Say in a few words what was done"),
        ("mended", {"outcome": "é" * 201}, "Say it in 200 letters or fewer; these are 201."),
        ("expected-back", {"back": "next week"}, "“next week” is not a time."),
        ("expected-back", {"back": "2027-03-02T16:00"}, "That time is past."),
        ("expected-back", {"back": "2027-03-28T02:30"}, "The clocks skip 02:30 on that day."),
        ("how-bad", {}, "Choose how bad it is."),
        ("how-bad", {"severity": "awful"}, "Choose one of the list."),
    ],
)
def test_a_wrong_press_gets_a_sentence_keeps_what_was_typed_and_changes_nothing(
    client: Client, fault: Fault, what: str, sent: dict[str, str], sentence: str
) -> None:
    response = client.post(f"/bench/{fault.pk}/{what}", sent)
    page = response.content.decode()
    assert response.status_code == 422
    assert sentence in page
    if what != "how-bad":
        assert all(f'value="{value}"' in page for value in sent.values())
    fault.refresh_from_db()
    assert (fault.closed_at, fault.expected_back, fault.severity) == (None, None, Severity.LIMITED)


@pytest.mark.parametrize("role", [Role.ENGINEER, Role.ASSISTANT])
def test_the_bench_is_for_the_tech_and_the_manager(client: Client, fault: Fault, role: Role) -> None:
    client.force_login(make_person(role))
    assert client.get("/bench").status_code == 403
    for what in ("on-the-bench", "away", "expected-back", "how-bad", "mended"):
        response = client.post(f"/bench/{fault.pk}/{what}", {"outcome": "mine"})
        assert response.status_code == 403
        assert "Only a bench tech or manager" in response.content.decode()
    fault.refresh_from_db()
    assert (fault.closed_at, fault.step) == (None, Step.REPORTED)


def test_an_unknown_fault_is_not_found_and_a_link_changes_nothing(client: Client, fault: Fault) -> None:
    assert client.post("/bench/999999/mended", {"outcome": "x"}).status_code == 404
    assert client.get(f"/bench/{fault.pk}/mended").status_code == 405


def test_many_faults_take_no_more_queries_than_few(client: Client, tech: Person) -> None:
    model = make_model()
    make_many_units(60, model)
    units = list(GearUnit.objects.all())
    add_faults(units[:3])
    few = count_queries(client)
    add_faults(units[3:])
    assert count_queries(client) == few


def add_faults(units: list[GearUnit]) -> None:
    Fault.objects.bulk_create(
        Fault(unit=unit, effect=Effect.NOISY, severity=Severity.LIMITED, since=NOW, reported_at=NOW)
        for unit in units
    )


def count_queries(client: Client) -> int:
    with CaptureQueriesContext(connection) as queries:
        assert client.get("/bench").status_code == 200
    return len(queries)


def test_a_page_older_than_the_mending_is_told_so_and_changes_nothing() -> None:
    tech = make_person(Role.TECH)
    fault = report_fault(tech, make_mic("R-1"), None, Fault.Effect.DEAD)
    mend(tech, fault, "new ribbon", heard=True)
    client = Client()
    client.force_login(tech)
    for route, typed in [("bench_start", {}), ("bench_mended", {"outcome": "cleaned the plug"})]:
        page = client.post(reverse(f"studio:{route}", args=[fault.pk]), typed, follow=True).content.decode()
        assert "R-1 was mended" in page
        assert "nothing was changed" in page
    assert "You had typed: “cleaned the plug”" in page
    fault.refresh_from_db()
    assert (fault.step, fault.outcome) == (Fault.Step.MENDED, "new ribbon")
