"""The pages on which a list is taken in: bring it, confirm its headings, answer, take it in; and who may."""

from __future__ import annotations

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from studio.gearlists.taking_in import remembered
from studio.models import Claim, Fault, GearList, GearUnit, HeadingMatch, Role
from tests.house import make_mic, make_model, make_person, make_preamp, make_room, make_site, make_unit

pytestmark = pytest.mark.django_db

HOUSE_LIST = """Tag,Make,Model,What,Got on,Paid,State
P-1,Ninefold,9F-Eight,8ch mic pre,03/04/2021,1.500,"ch 4 crackles when warm, ch 7 no +48"
M-1,Marlpit,ML-40,ribbon,05/06/2021,2.250,sounds dull?
"""
LOG = """Date,Unit,Ch,Fault,Who,What was done,Status,Closed
13/04/21,the Eight,4,crackles,JT,cleaned,closed,20/04/21
03/05/21,the Eight,7,no +48,RW,,open,
14/05/21,the Eight,,dead,RW,sent off,away,
"""


@pytest.fixture
def keeper() -> Client:
    client = Client()
    client.force_login(make_person(Role.TECH, site=make_site()))
    return client


def bring(client: Client, text: str, name: str = "list.csv") -> GearList:
    client.post(reverse("studio:gear_lists"), {"file": SimpleUploadedFile(name, text.encode())})
    return GearList.objects.latest("pk")


def confirm(client: Client, brought: GearList, **changes: str) -> HttpResponse:
    page = client.get(reverse("studio:list_headings", args=[brought.pk]))
    chosen = {field.name: field.initial for field in page.context["form"]}
    return client.post(reverse("studio:list_headings", args=[brought.pk]), chosen | changes)


def answer(client: Client, brought: GearList, **answers: str) -> HttpResponse:
    """answers: by the question's key, with _ for a blank and __ for a colon and a blank."""
    said = {key.replace("__", ": ").replace("_", " "): value for key, value in answers.items()}
    return client.post(reverse("studio:gear_list", args=[brought.pk]), said)


def take_in(client: Client, brought: GearList, **data: str) -> HttpResponse:
    return client.post(reverse("studio:take_in_list", args=[brought.pk]), data)


def test_a_list_is_brought_confirmed_answered_and_taken_in(keeper: Client) -> None:
    brought = bring(keeper, HOUSE_LIST)
    assert confirm(keeper, brought, **{"4": "bought"}).status_code == 302
    report = keeper.get(reverse("studio:gear_list", args=[brought.pk])).content.decode()
    assert "the day first, or the month?" in report
    assert "channel 4" in report
    assert not GearUnit.objects.exists()
    answer(
        keeper,
        brought,
        column_5__order="day first",
        column_6__sign="thousands",
        row_2__fault_1="report",
        row_2__fault_2="remark",
    )
    take_in(keeper, brought)
    rack = GearUnit.objects.get(tag="P-1")
    assert (rack.bought, str(rack.value)) == ("2021-04-03", "1500.00")
    fault = Fault.objects.get()
    assert (fault.unit, fault.channel and fault.channel.number, fault.severity) == (rack, 4, "suspected")
    brought.refresh_from_db()
    assert brought.outcome.startswith("2 units and counted pieces: 2 new")


def test_what_is_not_answered_stays_out(keeper: Client) -> None:
    brought = bring(keeper, HOUSE_LIST)
    confirm(keeper, brought, **{"4": "bought"})
    take_in(keeper, brought)
    rack = GearUnit.objects.get(tag="P-1")
    assert (rack.bought, rack.value) == ("", None)
    assert "1.500" in rack.remark
    assert "03/04/2021" in rack.remark
    assert not Fault.objects.exists()


def test_a_heading_confirmed_once_is_remembered_for_the_next_list(keeper: Client) -> None:
    confirm(keeper, bring(keeper, HOUSE_LIST), **{"4": "bought"})
    assert remembered()["got on", "inventory"] == "bought"
    page = keeper.get(reverse("studio:list_headings", args=[bring(keeper, HOUSE_LIST).pk]))
    assert page.context["form"]["4"].initial == "bought"
    confirm(keeper, bring(keeper, HOUSE_LIST), **{"4": "notes"})
    assert HeadingMatch.objects.get(heading="got on").field == "notes"


def test_two_columns_cannot_be_the_same_field(keeper: Client) -> None:
    page = confirm(keeper, bring(keeper, HOUSE_LIST), **{"4": "value"})
    assert page.status_code == 422
    assert "Two columns are taken for “value”" in page.content.decode()


def test_pressing_twice_takes_in_once(keeper: Client) -> None:
    brought = bring(keeper, "Qty,Model,What\n3,LM 2,ribbon\n")
    take_in(keeper, brought)
    take_in(keeper, brought)
    assert GearUnit.objects.count() == 3


def test_a_list_with_an_error_is_kept_out_until_the_good_rows_are_let_in(keeper: Client) -> None:
    brought = bring(keeper, "Qty,Model,What\n1,LM 2,ribbon\n-1,LM 3,ribbon\n")
    take_in(keeper, brought)
    assert not GearUnit.objects.exists()
    take_in(keeper, brought, good_rows="on")
    assert GearUnit.objects.count() == 1


def test_a_fault_that_was_reported_is_not_asked_again(keeper: Client) -> None:
    first = bring(keeper, HOUSE_LIST)
    answer(keeper, first, row_2__fault_1="report")
    take_in(keeper, first)
    page = keeper.get(reverse("studio:gear_list", args=[bring(keeper, HOUSE_LIST).pk]))
    assert "row 2: fault 1" not in page.context["form"].fields
    assert "row 2: fault 2" in page.context["form"].fields


def test_of_several_the_one_that_is_named_gets_the_fault(keeper: Client) -> None:
    brought = bring(keeper, "Qty,Model,What,Notes\n3,FL-12,dynamic,one is dead\n")
    answer(keeper, brought, row_2__fault_1="1")
    take_in(keeper, brought)
    assert Fault.objects.get().unit.tag == "FL-12-2"


def test_what_is_on_the_bench_in_the_list_is_on_the_bench_here(keeper: Client) -> None:
    brought = bring(keeper, "Tag,Model,What,Lives,Notes\nM-1,FL-12,dynamic,Bench,no output\n")
    answer(keeper, brought, row_2__fault_1="report")
    take_in(keeper, brought)
    assert (Fault.objects.get().step, Fault.objects.get().severity) == ("on_bench", "out")


@time_machine.travel("2026-03-02 09:00+00:00", tick=False)
def test_a_repair_log_makes_no_units_and_is_recorded_on_the_unit_that_a_person_names(keeper: Client) -> None:
    rack = make_preamp("P-1", channels=8)
    brought = bring(keeper, LOG)
    confirm(keeper, brought)
    named = {"unit: the eight": "P-1", **{f"row {row}: event": "record" for row in (2, 3, 4)}}
    keeper.post(reverse("studio:gear_list", args=[brought.pk]), named)
    take_in(keeper, brought)
    assert list(GearUnit.objects.all()) == [rack]
    closed, open_one, away = Fault.objects.order_by("since")
    assert (closed.channel.number, closed.step, closed.outcome) == (4, "mended", "cleaned")
    assert f"{closed.since:%Y-%m-%d} {closed.closed_at:%Y-%m-%d}" == "2021-04-13 2021-04-20"
    assert (open_one.channel.number, open_one.effect, open_one.closed_at) == (7, "no_phantom", None)
    assert (away.channel, away.step, away.severity) == (None, "away", "out")


def test_a_log_is_recorded_as_far_as_it_tells_and_only_once(keeper: Client) -> None:
    make_preamp("P-1", channels=8)
    log = (
        "Date,Unit,Ch,Fault,Who,What was done,Status,Closed\n"
        "13/04/2021,P-1,4,crackles,JT,cleaned pot,closed,20/04/2021\n"
        "15/05/2021,P-1,5,hums above 50 dB,RW,,waiting parts,\n"
        "16/05/2021,P-1,6,no output,RW,new socket,back,\n"
    )
    for _ in range(2):
        brought = bring(keeper, log)
        confirm(keeper, brought)
        named = {"unit: p 1": "P-1", **{f"row {row}: event": "record" for row in (2, 3, 4)}}
        keeper.post(reverse("studio:gear_list", args=[brought.pk]), named)
        take_in(keeper, brought)
    said = [(f.channel.number, f.step, f.above_gain_db) for f in Fault.objects.order_by("since")]
    assert said == [(4, "mended", None), (5, "parts", 50), (6, "unheard", None)]
    closed, *_ = Fault.objects.order_by("since")
    assert closed.events.get(closed=True).at == closed.closed_at


def test_what_was_dead_years_ago_and_is_mended_takes_nothing_from_tonight(keeper: Client) -> None:
    make_preamp("P-1", channels=8)
    log = "Date,Unit,Fault,Who,Status,Closed\n13/04/2021,P-1,dead,JT,closed,20/04/2021\n"
    brought = bring(keeper, log)
    confirm(keeper, brought)
    keeper.post(
        reverse("studio:gear_list", args=[brought.pk]), {"unit: p 1": "P-1", "row 2: event": "record"}
    )
    take_in(keeper, brought)
    assert Fault.objects.get().closed_at
    assert not Claim.objects.exists()


def test_a_unit_that_the_house_has_not_is_said(keeper: Client) -> None:
    brought = bring(keeper, LOG)
    page = keeper.post(reverse("studio:gear_list", args=[brought.pk]), {"unit: the eight": "X-9"})
    assert page.status_code == 422
    assert "No unit is tagged X-9" in page.content.decode()


@pytest.mark.parametrize(
    "content", [b"%PDF-1.7", b"\x00\x01\x02" * 50, b"PK\x03\x04 no workbook", b",,,\n,,,\n"]
)
def test_a_file_that_is_no_list_is_told_in_a_sentence(keeper: Client, content: bytes) -> None:
    keeper.post(reverse("studio:gear_lists"), {"file": SimpleUploadedFile("x.csv", content)})
    brought = GearList.objects.get()
    for name in ("studio:list_headings", "studio:gear_list"):
        page = keeper.get(reverse(name, args=[brought.pk]))
        assert page.status_code == 200
    assert (
        "hoose" in keeper.get(reverse("studio:list_headings", args=[brought.pk])).content.decode()
        or content[:1] == b","
    )


def test_only_who_keeps_the_gear_opens_these_pages() -> None:
    client = Client()
    client.force_login(make_person(Role.ENGINEER))
    for name in ("studio:gear_lists", "studio:export_gear"):
        assert client.get(reverse(name)).status_code == 403


def test_the_house_page_leads_here_and_the_export_is_a_file(keeper: Client) -> None:
    make_mic("M-1")
    make_unit("=1+1", make_model(name="@LM"), home_room=make_room("Hall"), storage="+top")
    assert reverse("studio:gear_lists") in keeper.get(reverse("studio:house")).content.decode()
    answered = keeper.get(reverse("studio:export_gear"))
    assert answered["Content-Disposition"] == 'attachment; filename="gear.csv"'
    assert "'=1+1," in answered.content.decode("utf-8-sig")
    brought = bring(keeper, answered.content.decode("utf-8-sig"))
    page = keeper.get(reverse("studio:gear_list", args=[brought.pk])).content.decode()
    assert "0 new, 0 changed, 2 as they are" in page


def test_many_questions_come_in_pages_so_that_the_answers_fit_a_form(keeper: Client) -> None:
    rows = "".join(f"M-{number},FL-12,dynamic,no output {number}\n" for number in range(250))
    brought = bring(keeper, "Tag,Model,What,Notes\n" + rows)
    address = reverse("studio:gear_list", args=[brought.pk])
    first, last = (keeper.get(address, {"page": page}).context["form"].fields for page in ("1", "3"))
    assert (len(first), len(last)) == (100, 50)
    keeper.post(f"{address}?page=3", {"row 251: fault 1": "report"})
    take_in(keeper, brought)
    assert Fault.objects.get().unit.tag == "M-249"


def test_one_press_says_yes_to_every_fault_that_names_its_unit(keeper: Client) -> None:
    """Those of several pieces, of which it isn't said which, are still asked about."""
    rows = "P-1,8ch mic pre,1,ch 4 crackles\nM-1,ribbon,1,hums\n,headphones,4,1 broken\n"
    brought = bring(keeper, "Tag,Model,Qty,Notes\n" + rows)
    confirm(keeper, brought)
    page = keeper.get(reverse("studio:gear_list", args=[brought.pk]))
    assert "Say yes to all 2 faults" in page.content.decode()
    keeper.post(reverse("studio:all_faults", args=[brought.pk]))
    take_in(keeper, brought)
    assert sorted(str(fault) for fault in Fault.objects.all()) == [
        "M-1: hums",
        "P-1 channel 4: ch 4 crackles",
    ]
