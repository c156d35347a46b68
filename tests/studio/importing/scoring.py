"""How well a reading agrees with what a sheet's labels say: one check a fact, so that a score can be counted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from studio.importing.reading import Reading, column_names
from studio.importing.things import Thing
from tests.studio.importing.sheets import Sheet


@dataclass(frozen=True, slots=True)
class Check:
    what: str
    found: object
    wanted: object

    @property
    def right(self) -> bool:
        return self.found == self.wanted


def checks(sheet: Sheet, reading: Reading) -> Iterator[Check]:
    asked = {each.row for each in reading.questions if each.row}
    columns = {each.column for each in reading.questions if each.column}
    yield Check("encoding", reading.encoding in sheet.encodings, True)
    yield Check("delimiter", reading.delimiter or None, sheet.delimiter)
    yield Check("heading row", reading.layout.row, sheet.heading_row)
    named = column_names(reading.layout)
    for heading, field in sheet.columns.items():
        yield Check(f"column {heading}", named.get(heading), field)
    yield Check("units", reading.units, sheet.units)
    yield Check("skipped", {each.row for each in reading.skipped}, set(sheet.skipped))
    yield Check("errors", {each.row for each in reading.errors}, set(sheet.errors))
    yield Check("asked rows", asked - sheet.may_ask, set(sheet.asked - sheet.may_ask))
    yield Check("asked columns", sheet.asked_columns - columns, set())
    yield Check("columns needlessly asked", sheet.not_asked_columns & columns, set())
    things = {thing.row: thing for thing in reading.things}
    for row, facts in sheet.rows.items():
        for name, wanted in facts.items():
            found = fact(things[row], name) if row in things else "no such thing"
            yield Check(
                f"row {row} {name}",
                found,
                Decimal(wanted) if name == "value" and wanted else wanted or empty(name),
            )
    yield from fault_checks(sheet, reading)


def empty(name: str) -> object:
    return {"value": None, "tags": [], "serials": [], "ban": False, "about": False}.get(name, "")


def fact(thing: Thing, name: str) -> Any:
    match name:
        case "kind":
            return thing.kind.name
        case "channels":
            return thing.kind.channels
        case "ban":
            return thing.phantom == "must_not"
        case "tags" | "serials":
            return list(getattr(thing, name))
        case _:
            return getattr(thing, name)


def fault_checks(sheet: Sheet, reading: Reading) -> Iterator[Check]:
    told = {
        thing.row: tuple(said.remark.channels for said in thing.faults if said.remark.effect != "lent")
        for thing in reading.things
    }
    told |= {event.row: (event.channels,) for event in reading.events}
    for row, channels in sheet.faults.items():
        yield Check(f"row {row} faults", sorted(told.get(row, ())), sorted(channels))
    for row in sheet.not_faults:
        yield Check(f"row {row} no fault", told.get(row, ()), ())
