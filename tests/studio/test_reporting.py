"""A report is one press; what helps the mender is asked without blame, and doubts are cleared by a press each."""

from __future__ import annotations

import pytest
from django.test import Client

from studio.faults import mend, report_fault
from studio.gear.forms import ReportForm
from studio.models import Fault, GearUnit, Role
from tests.house import channel, make_mic, make_person, make_preamp

pytestmark = pytest.mark.django_db


@pytest.fixture
def desk() -> Client:
    client = Client()
    client.force_login(make_person(Role.ASSISTANT))
    return client


def test_one_press_is_enough(desk: Client) -> None:
    make_mic("R-02")
    assert "Report it now" in desk.get("/gear/R-02?effect=crackles").content.decode()
    answer = desk.post("/gear/R-02", {"effect": "crackles"})
    assert (answer.status_code, answer["Location"]) == (302, "/gear/R-02#said")
    assert Fault.objects.get().severity == Fault.Severity.SUSPECTED


def test_what_could_stand_in_comes_first_where_something_is_wrong(desk: Client) -> None:
    make_mic("R-02")
    fine = desk.get("/gear/R-02").content.decode()
    assert fine.index('id="wrongs-title"') < fine.index('id="uses"')
    desk.post("/gear/R-02", {"effect": "crackles"})
    wrong = desk.get("/gear/R-02").content.decode()
    assert wrong.index('id="uses"') < wrong.index('id="wrongs-title"')
    assert wrong.count('id="uses"') == 1


def test_everything_that_helps_the_mender_is_kept(desk: Client) -> None:
    oak, ribbon = make_preamp("Oak", 4), make_mic("R-02")
    said = {
        "effect": "noisy",
        "channel": str(channel(oak, 3).pk),
        "often": "sometimes",
        "above_gain_db": "40",
        "joined_to": "R-02, long lead",
        "cured_by": "another channel",
        "usable_today": "yes",
        "suspects": "R-02, oak 4",
        "workaround": "use channel 1",
        "workaround_until": "2099-03-04T12:00",
    }
    assert desk.post("/gear/Oak", said).status_code == 302
    fault = Fault.objects.get(channel=channel(oak, 3))
    assert (fault.often, fault.above_gain_db, fault.joined_to) == ("sometimes", 40, "R-02, long lead")
    assert (fault.cured_by, fault.usable_today, fault.workaround) == (
        "another channel",
        True,
        "use channel 1",
    )
    others = Fault.objects.filter(suspect_with=fault).order_by("pk")
    assert [(f.unit.tag, f.channel) for f in others] == [("R-02", None), ("Oak", channel(oak, 4))]
    page = desk.get("/gear/R-02").content.decode()
    assert "it might also be" in page
    desk.post(f"/faults/{others[0].pk}/cleared")
    assert not ribbon.faults.open().exists()


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"suspects": "zebra"}, "No unit is called “zebra”"),
        ({"above_gain_db": "x"}, "Write the gain in dB as a number"),
        ({"workaround_until": "2001-01-01T10:00"}, "That end of the workaround is past"),
        ({"effect": "nothing"}, "Choose one of the list."),
    ],
)
def test_what_makes_no_sense_gets_a_sentence_and_keeps_what_was_typed(
    desk: Client, said: dict[str, str], words: str
) -> None:
    make_preamp("Oak", 4)
    page = desk.post("/gear/Oak", {"effect": "noisy", "words": "hums at night", **said})
    assert page.status_code == 422
    assert words in page.content.decode()
    assert "hums at night" in page.content.decode()
    assert not Fault.objects.exists()


def test_it_is_seen_again_and_heard_with_a_press(desk: Client) -> None:
    tech, mic = make_person(Role.TECH), make_mic("R-02")
    fault = report_fault(tech, mic, None, Fault.Effect.DEAD)
    desk.post(f"/faults/{fault.pk}/seen-again")
    assert "seen 2 times" in desk.get("/gear/R-02").content.decode()
    mend(tech, fault, "new ribbon", heard=False)
    assert "Heard: it is fine" in desk.get("/gear/R-02").content.decode()
    desk.post(f"/faults/{fault.pk}/heard", {"fine": "yes"})
    assert not Fault.objects.open().exists()
    again = desk.post(f"/faults/{fault.pk}/heard", {"fine": "yes"}, follow=True)
    assert "That has been closed meanwhile; nothing was changed." in again.content.decode()


def test_no_word_of_the_form_asks_who_did_it() -> None:
    unit: GearUnit = make_mic("R-02")
    html = str(ReportForm(unit=unit)).lower()
    assert not [
        word for word in ("blame", "who did", "your fault", "mistake", "broke it", "dropped") if word in html
    ]
