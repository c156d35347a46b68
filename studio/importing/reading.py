"""A file's bytes to everything that Deskhand makes of it, before anything is stored: the dry run."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from studio.importing.columns import conventions
from studio.importing.desk import Thing
from studio.importing.events import Event, read_events
from studio.importing.files import read_file
from studio.importing.heading_words import LOG, field_name
from studio.importing.headings import find_layout
from studio.importing.layout import Layout
from studio.importing.rows import Sort, Sorted, sort_rows
from studio.importing.table import Finding, Row
from studio.importing.things import read_thing
from studio.importing.twins import apart
from studio.importing.workbook import SHEET

NO_HEADINGS = "No row of headings was found. What the columns are was guessed from what stands in them."


@dataclass(frozen=True, slots=True)
class Reading:
    """Every row is the heading row, a thing, skipped, asked about or an error."""

    encoding: str
    delimiter: str
    layout: Layout
    things: tuple[Thing, ...] = ()
    events: tuple[Event, ...] = ()
    skipped: tuple[Finding, ...] = ()
    questions: tuple[Finding, ...] = ()
    errors: tuple[Finding, ...] = ()
    samples: Mapping[int, tuple[str, ...]] = field(default_factory=dict)

    @property
    def is_log(self) -> bool:
        return self.layout.sort == LOG

    @property
    def units(self) -> int:
        """Pieces in all, counted stock among them; a row whose count isn't known counts as nothing."""
        return sum(thing.pieces or 0 for thing in self.things)

    def to_json(self) -> dict[str, Any]:
        return {
            "encoding": self.encoding,
            "delimiter": self.delimiter or None,
            "heading_row": self.layout.row or None,
            "columns": column_names(self.layout),
            "units": self.units,
            "skipped": [{"row": each.row, "why": each.what} for each in self.skipped],
            "questions": [_place(each) | {"what": each.what} for each in self.questions],
            "errors": [_place(each) | {"what": each.what} for each in self.errors],
        }


def _place(finding: Finding) -> dict[str, Any]:
    return {"column": finding.column} if finding.row is None else {"row": finding.row}


def column_names(layout: Layout) -> dict[str, str]:
    """Heading to what it was taken for; a heading that comes twice is told apart by its column."""
    often = Counter(column.heading for column in layout.columns)
    return {
        column.heading
        if often[column.heading] == 1
        else f"{column.heading} (column {column.index + 1})": field_name(column.field)
        for column in layout.columns
    }


def read_gear(
    content: bytes,
    this_year: int,
    remembered: Mapping[tuple[str, str], str] | None = None,
    chosen: Mapping[int, str] | None = None,
    answers: Mapping[str, str] | None = None,
) -> Reading:
    """remembered: (folded heading, sort of list) to field; chosen: column index to field; answers: by question key.

    Never raises: what can't be read is an error of the reading.
    """
    remembered, chosen, answers = remembered or {}, chosen or {}, answers or {}
    table = read_file(content, answers.get(SHEET, ""))
    layout = find_layout(table.rows, remembered, chosen)
    reading = Reading(table.encoding, table.delimiter, layout, samples=_samples(table.rows, layout))
    if not table.rows:
        return replace(reading, errors=table.errors, questions=table.questions)
    rows = sort_rows(table.rows, layout, remembered, chosen)
    wrong = {error.row for error in table.errors}
    whole = [row for row in rows if row.sort is Sort.THING and row.row.number not in wrong]
    skipped = tuple(
        Finding(_why(row), row.row.number) for row in rows if row.sort not in {Sort.THING, Sort.HEADINGS}
    )
    left_out = {each.row for each in skipped}
    odd = [each for each in table.questions if each.row is None or each.row not in left_out]
    reading = replace(
        reading, skipped=skipped, questions=(*_asked_columns(layout), *odd), errors=table.errors
    )
    return _read_rows(reading, whole, this_year, answers)


def _samples(rows: Sequence[Row], layout: Layout) -> dict[int, tuple[str, ...]]:
    """The first few different texts of each column, for the person who confirms the headings."""
    found: dict[int, tuple[str, ...]] = {}
    for column in layout.columns:
        texts = dict.fromkeys(
            row.cell(column.index) for row in rows if row.number > layout.row and len(row.filled) > 1
        )
        found[column.index] = tuple(text[:60] for text in texts if text)[:3]
    return found


def _why(row: Sorted) -> str:
    words = " · ".join(cell for _, cell in row.row.filled)
    return f"{row.sort}: “{words[:120]}”" if words else str(row.sort)


def _asked_columns(layout: Layout) -> list[Finding]:
    asked = [] if layout.row else [Finding(NO_HEADINGS, column="(headings)")]
    for column in layout.columns:
        if not column.certain:
            what = f"Taken for “{field_name(column.field)}”. Right?"
            asked.append(Finding(what, column=column.heading))
    return asked


def _read_rows(
    reading: Reading, rows: Sequence[Sorted], this_year: int, answers: Mapping[str, str]
) -> Reading:
    """Rows with a cell too many are errors; the others are read as things, or as events of a log."""
    fits = [row for row in rows if not _too_long(row)]
    errors = [*reading.errors, *(_too_long_error(row) for row in rows if _too_long(row))]
    ways = conventions([row.row for row in fits], reading.layout, answers, this_year)
    if reading.is_log:
        events = tuple(read_events(fits, ways))
        asked = [event.question() for event in events if event.key not in answers]
        return replace(
            reading,
            events=events,
            errors=tuple(errors),
            questions=(*reading.questions, *ways.questions, *asked),
        )
    kinds = {key.removeprefix("kind: "): kind for key, kind in answers.items() if key.startswith("kind: ")}
    things: list[Thing] = []
    asked = []
    for row in fits:
        thing, desk = read_thing(row, ways, answers, kinds)
        asked += desk.questions
        errors += desk.errors
        things += [] if desk.errors else [thing]
    things, doubles, twice = apart(things)
    left_out = {each.row for each in doubles}
    asked = [each for each in asked if each.row not in left_out]
    return replace(
        reading,
        things=tuple(things),
        errors=tuple(errors),
        skipped=tuple(sorted((*reading.skipped, *doubles), key=lambda each: each.row or 0)),
        questions=(
            *reading.questions,
            *ways.questions,
            *sorted((*asked, *twice), key=lambda each: each.row or 0),
        ),
    )


def _too_long(row: Sorted) -> bool:
    return bool(row.layout.row) and any(index >= row.layout.width for index, _ in row.row.filled)


def _too_long_error(row: Sorted) -> Finding:
    extra = [cell for index, cell in row.row.filled if index >= row.layout.width]
    what = (
        f"Line {row.row.line}: {row.layout.width + len(extra)} cells where there are {row.layout.width} headings, "
        f"so its columns may have slipped: “{extra[0][:60]}”. Put quotation marks around a cell that holds the "
        "delimiter."
    )
    return Finding(what, row.row.number)
