"""A workbook (XLSX) to rows. Formulas are never computed: the value that was saved with one is read, and named."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, time
from itertools import islice
from typing import Any

from studio.importing.merged import blocks_in, spread
from studio.importing.table import Finding, Row, Table, tidy

MOST_BYTES = 200_000_000
MOST_ROWS = 50_000
MOST_COLUMNS = 200
SHEET = "sheet"


class NotAWorkbook(ValueError):
    """The message is a sentence that says what to do."""


def read_workbook(content: bytes, sheet: str = "") -> Table:
    """The sheet of that name, else the one with most rows; the others are asked about. Raises NotAWorkbook."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of features that no list needs
            return _read(content, sheet)
    except NotAWorkbook:
        raise
    except Exception as error:
        raise NotAWorkbook("This workbook can't be opened. Save it again as XLSX or as CSV.") from error


def _read(content: bytes, sheet: str) -> Table:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        if sum(entry.file_size for entry in archive.infolist()) > MOST_BYTES:
            raise NotAWorkbook("This workbook is too large unpacked. Save the sheet alone, as CSV.")
    from openpyxl import load_workbook  # a third of a second, which no other command has to wait for

    values = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
    sheets = {page.title: list(_rows(page)) for page in values.worksheets}
    rows_in = {title: sum(any(row) for row in rows) for title, rows in sheets.items()}
    chosen = sheet if sheet in sheets else max(rows_in, key=lambda title: rows_in[title], default="")
    if not chosen:
        return Table("xlsx", "")
    formulas = load_workbook(io.BytesIO(content), read_only=True)
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        merged = spread(
            sheets[chosen], blocks_in(archive, str(getattr(values[chosen], "_worksheet_path", "")))
        )
    questions = [
        *merged,
        *_other_sheets(rows_in, chosen, asked=not sheet),
        *_computed(formulas[chosen], sheets[chosen]),
    ]
    rows = [Row(n, n, tuple(cells)) for n, cells in enumerate(sheets[chosen], 1)]
    return Table("xlsx", "", tuple(rows), tuple(questions))


def _other_sheets(rows_in: dict[str, int], chosen: str, asked: bool) -> list[Finding]:
    others = {title: count for title, count in rows_in.items() if count and title != chosen}
    if not others or not asked:
        return []
    said = ", ".join(f"“{title}” ({count} rows)" for title, count in others.items())
    what = f"Only the sheet “{chosen}” was read, and not {said}. Which shall be read? Bring the file once for each."
    return [
        Finding(
            what, column="(sheet)", key=SHEET, options=tuple((title, title) for title in (chosen, *others))
        )
    ]


def _rows(page: Any) -> Iterator[list[str]]:
    page.reset_dimensions()
    for row in islice(page.iter_rows(max_col=MOST_COLUMNS), MOST_ROWS):
        cells = [tidy(_text(cell.value, getattr(cell, "number_format", "") or "")) for cell in row]
        while cells and not cells[-1]:
            cells.pop()
        yield cells


def _computed(page: Any, rows: list[list[str]]) -> list[Finding]:
    page.reset_dimensions()
    found = []
    for number, row in enumerate(islice(page.iter_rows(max_col=MOST_COLUMNS), len(rows)), 1):
        for place, cell in enumerate(row):
            if getattr(cell, "data_type", "") == "f":
                value = rows[number - 1][place] if place < len(rows[number - 1]) else ""
                read = (
                    f"its saved value “{value}” was read" if value else "no value was saved, so it is empty"
                )
                found.append(Finding(f"Cell {cell.coordinate} is computed; {read}. Right?", row=number))
    return found


def _text(value: object, number_format: str) -> str:
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case datetime() | date():
            return value.isoformat()[:10]
        case time():
            return value.isoformat("minutes")
        case int() | float() if value == value and abs(value) < 1e15 and value == int(value):
            return (
                str(int(value)).zfill(len(number_format))
                if re.fullmatch("0+", number_format)
                else str(int(value))
            )
        case _:
            return str(value)
