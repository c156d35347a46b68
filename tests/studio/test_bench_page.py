"""The bench page: what is mended first and why, and what its presses do."""

from __future__ import annotations

import io
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image
from pytest_django import Settings

from studio.bench.steps import STEPS
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
    assert "is mended and free again" in press(client, fault, "mended", outcome="new transistor", heard="on")
    assert fault.outcome == "new transistor"
    assert "Nothing is broken" in client.get("/bench").content.decode()
    assert "new transistor" in client.get("/gear/Oak").content.decode()


def test_each_step_keeps_what_was_said_of_it_and_the_page_of_the_repair_adds_it_up(
    client: Client, fault: Fault
) -> None:
    GearUnit.objects.update(currency="EUR")
    press(client, fault, "looked-at", reproduced="no", note="fine when cold")
    assert (fault.step, fault.reproduced) == (Step.LOOKED_AT, False)
    press(client, fault, "note", note="ran it warm", minutes="85", cost="3,20", parts="fan")
    press(client, fault, "away", to="Brook & Daughter", cost="85", returns="2027-03-08T12:00")
    assert (fault.sent_to, fault.expected_back) == ("Brook & Daughter", at("2027-03-08 12:00"))
    press(client, fault, "parts", parts="a transformer", returns="2027-03-12T12:00")
    assert (fault.step, fault.expected_back) == (Step.PARTS, at("2027-03-12 12:00"))
    press(client, fault, "note", minutes="5")
    page = " ".join(client.get(f"/bench/{fault.pk}").content.decode().split())
    for words in (
        "it did not do it again",
        "fine when cold",
        "1 h 30 min; 88.20 EUR",
        "ran it warm · parts: fan · 85 min · 3.20 EUR",
        "sent to Brook &amp; Daughter · 85.00 EUR",
        "Waiting for parts</b> · parts: a transformer",
        "Expected back Fri 12 March, 12:00",
    ):
        assert words in page


def test_a_return_date_that_is_left_out_when_it_goes_away_no_longer_holds(
    client: Client, fault: Fault
) -> None:
    press(client, fault, "expected-back", back="2027-03-08T12:00")
    press(client, fault, "away", to="Brook & Daughter")
    assert fault.expected_back is None
    press(client, fault, "parts", parts="a fuse", returns="2027-03-09T12:00")
    press(client, fault, "parts", parts="a fuse")
    assert fault.expected_back is None


def test_what_is_mended_waits_to_be_heard_and_goes_back_in_the_queue_when_it_does_it_again(
    client: Client, fault: Fault
) -> None:
    assert "is back, and waits to be heard in use" in press(client, fault, "mended", outcome="new relay")
    assert "Back, not yet heard in use" in client.get("/bench").content.decode()
    assert "is on the list again" in press(client, fault, "heard", fine="no", words="dead again")
    assert (fault.step, fault.severity) == (Step.REPORTED, Severity.LIMITED)
    press(client, fault, "mended", outcome="new board")
    assert "is back in service" in press(client, fault, "heard", fine="yes")
    assert fault.closed_at == NOW
    page = client.get(f"/bench/{fault.pk}").content.decode()
    assert "Closed Tue 2 March, 16:40" in page
    assert "<form method" not in page.partition("<main")[2]


def test_a_photo_is_kept_with_the_repair_and_something_else_is_refused(
    client: Client, fault: Fault, settings: Settings, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    kept = io.BytesIO()
    Image.new("RGB", (8, 6)).save(kept, "PNG")
    sent = SimpleUploadedFile("burnt.png", kept.getvalue(), "image/png")
    client.post(f"/bench/{fault.pk}/note", {"note": "burnt", "photo": sent})
    assert fault.photos.get().unit == fault.unit
    wrong = client.post(f"/bench/{fault.pk}/note", {"photo": SimpleUploadedFile("x.png", b"no picture")})
    assert wrong.status_code == 422
    assert "That is no picture that can be read" in wrong.content.decode()


def test_the_page_of_a_repair_says_what_helps_to_mend_it(client: Client, tech: Person) -> None:
    mic, oak = make_mic("R-1"), make_preamp("Oak", 4)
    earlier = report_fault(tech, mic, None, Effect.DEAD)
    mend(tech, earlier, "new plug", heard=True)
    fault = report_fault(
        tech,
        mic,
        None,
        Effect.CRACKLES,
        words="when it is warm",
        often="sometimes",
        joined_to="Oak, the long lead",
        cured_by="another lead",
        usable_today=True,
        suspects=[(oak, channel(oak, 1))],
    )
    page = client.get(f"/bench/{fault.pk}").content.decode()
    for words in ("sometimes", "the long lead", "another lead", "still usable", "Oak channel 1", "new plug"):
        assert words in page


def test_the_date_is_read_on_the_clock_of_the_site(client: Client, tech: Person) -> None:
    mic = make_mic(site=make_site("Quay House", "Europe/Lisbon"))
    fault = report_fault(tech, mic, None, Effect.DEAD)
    press(client, fault, "expected-back", back="2027-03-08T12:00")
    assert fault.expected_back == at("2027-03-08 13:00")  # noon in Lisbon is one o'clock in Berlin
    assert 'value="2027-03-08T12:00"' in client.get(f"/bench/{fault.pk}").content.decode()


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
        ("away", {"returns": "2027-03-02T16:00"}, "That time is past."),
        ("away", {"cost": "a lot"}, "Write the cost as a number, like 85.50."),
        ("away", {"cost": "-1"}, "A cost can't be less than nothing."),
        ("away", {"cost": "1e12"}, "At most 999999.99 fits here."),
        ("away", {"to": "é" * 121}, "Say it in 120 letters or fewer; these are 121."),
        ("parts", {}, "Say which parts it waits for"),
        ("parts", {"parts": "a fuse", "returns": "soon"}, "“soon” is not a time."),
        ("note", {}, "Say what was found or done"),
        ("note", {"minutes": "1.5"}, "Write whole minutes, like 45."),
        ("note", {"minutes": "99999"}, "At most 10000 minutes fit here."),
        ("heard", {"fine": "perhaps"}, "Choose one of the two."),
        ("looked-at", {"reproduced": "perhaps"}, "Choose one of the list."),
        ("how-bad", {"severity": "awful"}, "Choose one of the list."),
    ],
)
def test_a_wrong_press_gets_a_sentence_keeps_what_was_typed_and_changes_nothing(
    client: Client, fault: Fault, what: str, sent: dict[str, str], sentence: str
) -> None:
    response = client.post(f"/bench/{fault.pk}/{what}", sent)
    page = unescape(response.content.decode())
    assert response.status_code == 422
    assert sentence in page
    if what not in {"how-bad", "heard", "looked-at"}:
        assert all(f'value="{value}"' in page for value in sent.values())
    fault.refresh_from_db()
    assert (fault.closed_at, fault.expected_back, fault.severity) == (None, None, Severity.LIMITED)


@pytest.mark.parametrize("role", [Role.ENGINEER, Role.ASSISTANT])
def test_the_bench_is_for_the_tech_and_the_manager(client: Client, fault: Fault, role: Role) -> None:
    client.force_login(make_person(role))
    assert client.get("/bench").status_code == 403
    assert client.get(f"/bench/{fault.pk}").status_code == 403
    for what in STEPS:
        response = client.post(f"/bench/{fault.pk}/{what}", {"outcome": "mine"})
        assert response.status_code == 403
        assert "Only a bench tech or manager" in response.content.decode()
    fault.refresh_from_db()
    assert (fault.closed_at, fault.step) == (None, Step.REPORTED)


def test_an_unknown_fault_is_not_found_and_a_link_changes_nothing(client: Client, fault: Fault) -> None:
    assert client.post("/bench/999999/mended", {"outcome": "x"}).status_code == 404
    assert client.get("/bench/999999").status_code == 404
    assert client.post(f"/bench/{fault.pk}/unknown").status_code == 404
    assert client.get(f"/bench/{fault.pk}/mended").status_code == 405


def test_hearing_what_is_not_waiting_to_be_heard_is_refused_with_a_sentence(
    client: Client, fault: Fault
) -> None:
    response = client.post(f"/bench/{fault.pk}/heard", {"fine": "yes"})
    assert response.status_code == 422
    assert "waiting to be heard" in response.content.decode()


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
    for what, typed in [("on-the-bench", {}), ("mended", {"outcome": "cleaned the plug"})]:
        address = reverse("studio:bench_step", args=[fault.pk, what])
        page = client.post(address, typed, follow=True).content.decode()
        assert "R-1 was mended" in page
        assert "nothing was changed" in page
    assert "You had typed: “cleaned the plug”" in page
    fault.refresh_from_db()
    assert (fault.step, fault.outcome) == (Fault.Step.MENDED, "new ribbon")
