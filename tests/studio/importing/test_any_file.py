"""Whatever bytes are brought: an answer in sentences, never an exception, and never endless work."""

from __future__ import annotations

import io
import time
import zipfile
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.importing.dates import DAY_FIRST, read_date
from studio.importing.decoding import decode
from studio.importing.delimited import split
from studio.importing.reading import read_gear
from studio.importing.table import looks_like_a_formula

YEAR = 2026
CELLS = st.text(
    alphabet=st.sampled_from(list("ab 10,.;\"'\r\n\t=+-@€£/éü#×?")) | st.characters(), max_size=12
)
HEADINGS = st.sampled_from(
    [
        "Qty",
        "Model",
        "S/N",
        "Tag",
        "What",
        "Bought",
        "Paid",
        "Notes",
        "Zustand",
        "Lives",
        "Owner",
        "Unit",
        "Fault",
    ]
)
TABLES = st.lists(st.lists(CELLS, max_size=7), max_size=8)


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused_in_a_sentence(content: bytes) -> None:
    reading = read_gear(content, YEAR)
    assert all(error.what.endswith((".", "…")) for error in reading.errors)


@settings(max_examples=150)
@given(st.lists(HEADINGS, min_size=2, max_size=7, unique=True), TABLES, st.sampled_from(",;\t|"))
def test_any_table_under_known_headings_has_every_row_in_one_place(
    headings: list[str], table: list[list[str]], delimiter: str
) -> None:
    def quoted(cell: str) -> str:
        return '"' + cell.replace('"', '""') + '"'

    lines = [delimiter.join(headings), *(delimiter.join(map(quoted, row)) for row in table)]
    reading = read_gear("\r\n".join(lines).encode("utf-8", "replace"), YEAR)
    placed = [thing.row for thing in reading.things] + [event.row for event in reading.events]
    placed += [each.row or 0 for each in reading.skipped] + list({each.row or 0 for each in reading.errors})
    placed += [reading.layout.row] * bool(reading.layout.row)
    assert len(placed) == len(set(placed))


@given(TABLES.filter(lambda table: all(table)), st.sampled_from(",;\t|"))
def test_what_is_quoted_as_rfc_4180_says_comes_back_cell_by_cell(
    table: list[list[str]], delimiter: str
) -> None:
    """RFC 4180, section 2, rules 5 to 7."""
    table = [row for row in table if row]
    if not table:
        return
    text = "\r\n".join(delimiter.join('"' + cell.replace('"', '""') + '"' for cell in row) for row in table)
    assert [cells for _, cells in split(text, delimiter)] == table


@given(st.text(alphabet=st.characters(codec="utf-8"), max_size=60))
def test_utf_8_is_always_known_as_such(text: str) -> None:
    assert decode(b"\xef\xbb\xbf" + text.encode()).text == text
    if text and not any(ord(char) < 9 for char in text):
        assert decode(text.encode()).text == text


def test_one_stray_quotation_mark_harms_one_cell_only() -> None:
    rows = split('a,"b,c\nd,e" f,g\n"h",i\n', ",")
    assert [cells for _, cells in rows][-1] == ["h", "i"]
    assert len(rows) == 3


def test_a_workbook_that_unpacks_without_end_is_refused() -> None:
    kept = io.BytesIO()
    with (
        zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as archive,
        archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as part,
    ):
        for _ in range(210):
            part.write(b" " * 1_000_000)
    reading = read_gear(kept.getvalue(), YEAR)
    assert "too large" in reading.errors[0].what


@pytest.mark.parametrize("text", ["=1+1", "@SUM(A1)", "+A1+2", "-A1", "=cmd|' /C calc'!A0", "＝1+1"])
def test_what_a_spreadsheet_would_compute_is_known(text: str) -> None:
    """Characters that begin a formula: common practice, no single source."""
    assert looks_like_a_formula(text)


@pytest.mark.parametrize("text", ["-12", "+44", "-12,50", "- none -", "A-1", "+48 never"])
def test_what_only_looks_like_one_is_left_alone(text: str) -> None:
    assert not looks_like_a_formula(text)


@given(st.dates(min_value=date(1950, 1, 1), max_value=date(2026, 12, 31)))
def test_a_date_is_read_the_same_however_it_is_written(day: date) -> None:
    wanted = f"{day:%Y-%m-%d}"
    for shape in ("%d.%m.%Y", "%d/%m/%Y", "%Y-%m-%d", "%d %b %Y", "%d-%m-%Y", "%d %B %Y", "%Y/%m/%d"):
        assert read_date(f"{day:{shape}}", DAY_FIRST, YEAR) == wanted


def test_the_files_of_other_peoples_spreadsheets_are_read_or_refused_with_their_line() -> None:
    """Field case F60; RFC 4180 and the Python manual on utf-8-sig."""
    text = 'name;serial;rate\r\nGerät "A";00123;1.234,50\r\n'
    for content in (b"\xef\xbb\xbf" + text.encode(), text.encode("cp1252"), text.encode("utf-16")):
        reading = read_gear(content, YEAR)
        (thing,) = reading.things
        assert (thing.model, thing.serials) == ('Gerät "A"', ("00123",))
        assert thing.value is None, "a rate is not a value"
    commas = 'name,serial,price\r\n"Gerät ""A""\r\nnew",00123,"1.234,50"\r\nB,1,2,3\r\n'
    reading = read_gear(commas.encode(), YEAR)
    assert str(reading.things[0].value) == "1234.50"
    (error,) = reading.errors
    assert error.row == 3
    assert error.what.startswith("Line 4")


def test_five_thousand_rows_are_read() -> None:
    rows = [
        f"{number:05d};Larkmoor LM {number % 9};{number:06d};Regal {number % 30}" for number in range(5_000)
    ]
    reading = read_gear("\r\n".join(["tag;model;serial;place", *rows]).encode(), YEAR)
    assert (reading.units, reading.errors) == (5_000, ())


@pytest.mark.parametrize("content", [b'"' * 300_000, b"Qty,Model\n1," + b"(" * 200_000, b"a" * 1_000_000])
def test_endless_cells_take_no_endless_time(content: bytes) -> None:
    began = time.process_time()
    reading = read_gear(content, YEAR)
    assert "letters" in reading.errors[0].what
    assert time.process_time() - began < 15
