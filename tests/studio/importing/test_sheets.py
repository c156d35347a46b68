"""Lists of many kinds, read as a person reads them: those written for these tests, and the three given ones."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from studio.importing.reading import Reading, read_gear
from tests.studio.importing.last_sheets import LAST_SHEETS
from tests.studio.importing.more_sheets import MORE_SHEETS
from tests.studio.importing.scoring import checks
from tests.studio.importing.sheets import SHEETS, Sheet
from tests.studio.importing.strange_sheets import STRANGE_SHEETS

YEAR = 2026
GIVEN = Path(__file__).parents[4] / "shared" / "trade" / "gear"
FILES = ["G01.csv", "G02.csv", "G08.csv"] if GIVEN.is_dir() else []


@pytest.mark.parametrize(
    "sheet", [*SHEETS, *MORE_SHEETS, *LAST_SHEETS, *STRANGE_SHEETS], ids=lambda sheet: sheet.name
)
def test_a_list_is_read_as_its_labels_say(sheet: Sheet) -> None:
    wrong = [check for check in checks(sheet, read_gear(sheet.content, YEAR)) if not check.right]
    assert not wrong


@pytest.mark.parametrize(
    "sheet", [*SHEETS, *MORE_SHEETS, *LAST_SHEETS, *STRANGE_SHEETS], ids=lambda sheet: sheet.name
)
def test_every_row_of_a_list_is_in_exactly_one_place(sheet: Sheet) -> None:
    reading = read_gear(sheet.content, YEAR)
    things = [thing.row for thing in reading.things] + [event.row for event in reading.events]
    placed = (
        things + [each.row for each in reading.skipped] + sorted({each.row or 0 for each in reading.errors})
    )
    placed += [reading.layout.row] * bool(reading.layout.row)
    assert len(placed) == len(set(placed))
    assert sorted(placed) == list(range(1, max(placed) + 1))


def test_the_given_lists_are_read_as_expected() -> None:
    """They lie beside the checkout and are no part of it; where they don't, the lists above stand for them."""
    for name in FILES:
        check_given(name)


def check_given(name: str) -> None:
    wanted = json.loads((GIVEN / "expected.json").read_text("utf-8"))["files"][name]
    reading = read_gear((GIVEN / name).read_bytes(), YEAR)
    report = reading.to_json()
    assert report["encoding"] in {wanted["encoding"]["name"], *wanted["encoding"]["also_ok"]}
    assert (report["delimiter"], report["heading_row"]) == (wanted["delimiter"], wanted["heading_row"])
    assert report["units"] == wanted["units"]["pieces"]
    assert report["errors"] == []
    events = {each["row"] for each in wanted["not_unit_rows"] if each.get("event_of_a_fault")}
    assert {each["row"] for each in report["skipped"]} == {
        each["row"] for each in wanted["not_unit_rows"]
    } - events
    assert {event.row for event in reading.events} == events
    for row in wanted["unit_rows"]:
        check_thing(reading, row)
    for fault in wanted["faults"]:
        check_fault(reading, fault)


def check_thing(reading: Reading, row: dict[str, Any]) -> None:
    thing = next(thing for thing in reading.things if thing.row == row["row"])
    assert thing.pieces == row["pieces"]
    assert bool(thing.stock) == (row["as"] == "stock")
    assert (thing.maker, thing.model) == (row["maker"], row["model"])
    assert list(thing.serials) == row.get("serials", [])
    assert list(thing.tags) == row.get("tags", []) or "ask" in str(row["tags"]) or "taken" in str(row["tags"])
    assert thing.bought == row.get("bought", "").split(" (")[0]
    assert (thing.state == "retired") == row.get("state", "").startswith("retired")


def check_fault(reading: Reading, fault: dict[str, Any]) -> None:
    """Said as a question that names the row and, where there is one, the channel."""
    channel = fault["channel"]
    channels = tuple(channel) if isinstance(channel, list) else (channel,) if isinstance(channel, int) else ()
    told = [
        said.remark.channels for thing in reading.things if thing.row == fault["row"] for said in thing.faults
    ]
    told += [event.channels for event in reading.events if event.row == fault["row"]]
    assert channels in told
    assert any(question.row == fault["row"] for question in reading.questions)
