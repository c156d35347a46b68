"""Taking in a list: updates by tag, nothing half-applied, a second run changes nothing, and back out as a list."""

from __future__ import annotations

import csv
import io
import json
import random
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st

from studio.gearlists.export import gear_as_csv
from studio.gearlists.matching import Known
from studio.gearlists.taking_in import ListRefused, Plan, plan, store
from studio.importing.kinds import kind_name, kind_names
from studio.importing.reading import read_gear
from studio.importing.table import neutralised, tidy
from studio.models import GearModel, GearUnit, MicrophoneSpec, Phantom, Stock
from tests.house import make_model, make_room, make_site, make_unit
from tests.studio.importing.last_sheets import LAST_SHEETS
from tests.studio.importing.more_sheets import MORE_SHEETS
from tests.studio.importing.sheets import SHEETS, Sheet

YEAR = 2026


def take(text: str | bytes, **options: Any) -> Plan:
    content = text.encode() if isinstance(text, str) else text
    return store(read_gear(content, YEAR), make_site(), **options)


def dry(text: str | bytes) -> Plan:
    content = text.encode() if isinstance(text, str) else text
    return plan(read_gear(content, YEAR), Known.read(make_site()))


def house() -> list[dict[str, Any]]:
    return [*GearModel.objects.values(), *GearUnit.objects.values(), *Stock.objects.values()]


@pytest.mark.django_db
@pytest.mark.parametrize("sheet", [*SHEETS, *MORE_SHEETS, *LAST_SHEETS], ids=lambda sheet: sheet.name)
def test_the_same_list_a_second_time_changes_nothing(sheet: Sheet) -> None:
    make_room("Rack")
    first = take(sheet.content, good_rows=True)
    before = house()
    again = take(sheet.content, good_rows=True)
    assert (again.new, again.changed) == (0, 0)
    assert house() == before
    single = sum(thing.pieces or 0 for thing in first.reading.things if not thing.stock)
    assert GearUnit.objects.count() == single


@pytest.mark.django_db
@pytest.mark.parametrize("sheet", [*SHEETS, *MORE_SHEETS, *LAST_SHEETS], ids=lambda sheet: sheet.name)
def test_what_was_taken_in_goes_out_as_a_list_and_comes_back_the_same(sheet: Sheet) -> None:
    make_room("Rack")
    take(sheet.content, good_rows=True)
    before = house()
    out = gear_as_csv()
    assert not [
        cell for row in csv.reader(io.StringIO(out[1:])) for cell in row if cell[:1] in "=+@\t" and cell
    ]
    back = take(out)
    assert (back.new, back.changed, back.reading.errors) == (0, 0, ())
    assert house() == before


@pytest.mark.django_db
def test_a_row_updates_the_unit_with_its_tag_and_leaves_what_it_does_not_say() -> None:
    unit = make_unit(
        "M-1", make_model(name="LM 2", maker="Larkmoor"), serial="0001", storage="Locker 1", remark="old"
    )
    made = take("Tag,Make,Model,Lives,Notes\nm-1,larkmoor,LM2,Locker 9,new case\n")
    unit.refresh_from_db()
    assert (unit.serial, unit.storage, unit.remark) == ("0001", "Locker 9", "old; new case")
    assert (made.new, made.changed) == (0, 1)
    assert GearUnit.objects.count() == 1


@pytest.mark.django_db
def test_a_tag_that_another_thing_has_is_asked_and_overwrites_nothing() -> None:
    unit = make_unit("M-1", make_model(name="LM 2", maker="Larkmoor"), serial="0001")
    made = take("Tag,Make,Model,Serial\nM-1,Coldwater,Squash,77\n")
    unit.refresh_from_db()
    assert unit.gear_model.name == "LM 2"
    other = GearUnit.objects.exclude(pk=unit.pk).get()
    assert (other.tag, other.serial) == ("Squash-1", "77")
    assert "M-1" in next(each.what for each in made.reading.questions if each.row == 2 and "Tag" in each.what)


@pytest.mark.django_db
def test_one_error_keeps_everything_out_unless_the_good_rows_are_let_in() -> None:
    text = "Qty,Make,Model,What\n2,Larkmoor,LM 2,ribbon\n-3,Coldwater,CW,ribbon\n"
    before = house()
    with pytest.raises(ListRefused, match="row 3"):
        take(text)
    assert house() == before
    take(text, good_rows=True)
    assert GearUnit.objects.count() == 2


@pytest.mark.django_db
def test_a_failure_half_way_leaves_the_house_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(self: Stock, *args: Any, **kwargs: Any) -> None:
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(Stock, "save", broken)
    with pytest.raises(RuntimeError):
        take("Qty,Model,What\n2,LM 2,ribbon\n5,XLR 5m,cable\n")
    assert house() == []


@pytest.mark.django_db
def test_what_the_words_say_of_phantom_is_kept_with_unit_and_model() -> None:
    take("Qty,Model,What,Notes\n1,LM 2,LDC,\n1,LM 3,ribbon,NO 48V!\n1,LM 4,LDC tube,\n1,LM 5,dynamic,\n")
    said = {spec.gear_model.name: spec.phantom for spec in MicrophoneSpec.objects.all()}
    assert said["LM 2"] == Phantom.NEEDS
    assert said["LM 4"] == Phantom.UNKNOWN  # a supply of its own; unknown is treated as must not
    assert said["LM 5"] == Phantom.INDIFFERENT
    assert GearUnit.objects.get(gear_model__name="LM 3").phantom == Phantom.MUST_NOT


@pytest.mark.django_db
def test_a_place_that_begins_with_a_room_is_in_that_room() -> None:
    room = make_room("Live Room")
    take("Qty,Model,What,Lives\n1,LM 2,ribbon,Live room floor\n1,LM 3,ribbon,Livery\n")
    first, second = GearUnit.objects.order_by("pk")
    assert (first.home_room, first.storage) == (room, "floor")
    assert (second.home_room, second.storage) == (None, "Livery")


@pytest.mark.django_db
def test_stock_is_counted_by_name_over_all_rows() -> None:
    make_site()
    take("Qty,Model,What,Lives\n12,XLR 5m,cable,wall\n~8,XLR 5m,cable,cellar\n")
    stock = Stock.objects.get()
    assert (stock.count, stock.storage, stock.remark) == (20, "wall; cellar", "about, not counted")
    assert stock.resource.capacity == 20


@pytest.mark.django_db
def test_the_number_of_questions_to_the_database_does_not_depend_on_the_rows() -> None:
    make_site()
    few, many = (messy(number) for number in (20, 200))
    counts = []
    for text in (few, many):
        take(text, good_rows=True)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            dry(text)
        counts.append(len(queries))
    assert counts[0] == counts[1]


def messy(rows: int) -> bytes:
    """BOM, semicolons, mixed dates, tags that come twice, formulas, unknown kinds, names in other scripts."""
    draw = random.Random(7)
    lines = ["Inv.-Nr.;Gerät;Hersteller;Typ;Serien-Nr.;Stck.;Standort;Anschaffung;Wert;Zustand"]
    kinds = ["Kondensator", "Bändchenmikro", "Vorverstärker 8-Kanal", "Wunderding", "Kabel", "Стойка"]
    names = ["Ωμέγα", "Тихий", "AK 7", "青 3"]
    dates = ["03.04.2021", "2019-11-30", "12/2009", "2017", "letzten Mai", ""]
    values = ["1.249,00 €", "899,5 €", "2.150", "=2*300", "", "4.800,-"]
    states = ["i.O.", "", "Kan. 3 kratzt", "brummt", "Schrott"]
    for number in range(rows):
        tag = f"{number:04d}" if number % 50 else "0001"
        serial = f"{number:05d}" if number % 9 else "=A1+1"
        lines.append(
            f"{tag};{draw.choice(kinds)};Ahrnfels;{draw.choice(names)} {number % 40};{serial};"
            f"{draw.choice(['1', '1', '2', ''])};Regal {number % 7};"
            f"{draw.choice(dates)};{draw.choice(values)};{draw.choice(states)}"
        )
    return b"\xef\xbb\xbf" + "\r\n".join(lines).encode() + b"\r\n"


@pytest.mark.django_db
def test_a_messy_list_of_a_thousand_rows_is_taken_in_and_a_second_run_changes_nothing() -> None:
    content = messy(1000)
    made = take(content, good_rows=True)
    placed = [thing.row for thing in made.reading.things] + [each.row for each in made.reading.skipped]
    placed += sorted({each.row or 0 for each in made.reading.errors})
    assert sorted(placed) == list(range(2, 1002))
    before = house()
    again = take(content, good_rows=True)
    assert (again.new, again.changed) == (0, 0)
    assert house() == before


@pytest.mark.django_db
def test_the_command_says_the_same_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    make_site()
    path = tmp_path / "list.csv"
    path.write_bytes(SHEETS[0].content)
    call_command("import_gear", str(path), "--dry-run", "--json")
    report = json.loads(capsys.readouterr().out)
    assert {"encoding", "delimiter", "columns", "units", "skipped", "questions", "errors"} <= set(report)
    assert (report["units"], report["delimiter"]) == (SHEETS[0].units, ";")
    assert all(set(each) == {"row", "why"} for each in report["skipped"])
    assert all({"what"} < set(each) <= {"row", "column", "what"} for each in report["questions"])
    assert house() == []
    call_command("import_gear", str(path), "--json")
    assert GearUnit.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("content", "code"),
    [(b"Qty,Model\n-3,LM\n", 1), (b"", 2), (b"%PDF-1.7 list", 2), (b"\x00\x01\x02" * 40, 2), (None, 2)],
)
def test_the_command_ends_with_1_for_errors_and_2_for_what_cannot_be_read(
    tmp_path: Path, content: bytes | None, code: int
) -> None:
    make_site()
    path = tmp_path / "list.csv"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(SystemExit) as left:
        call_command("import_gear", str(path))
    assert left.value.code == code


@given(st.text(alphabet="=+-@\t\r＝＋－＠'\"aé 1,;", max_size=12).map(tidy))
def test_any_text_goes_out_without_being_computed_and_comes_back_as_it_was(text: str) -> None:
    out = neutralised(text)
    assert out[:1] not in {"=", "+", "@"}
    assert tidy(out) == text


def test_a_negative_number_stays_a_number_and_every_kind_of_the_house_is_understood() -> None:
    assert neutralised("-12.50") == "-12.50"
    assert neutralised("-12+3") == "'-12+3"
    assert set(kind_names()) == set(GearModel.Kind.values)
    assert [kind_name(label) for label in GearModel.Kind.labels] == GearModel.Kind.values
