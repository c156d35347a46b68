"""A file's bytes to a table, whatever spreadsheet program wrote them. Never raises: what can't be read is an error."""

from __future__ import annotations

import re

from studio.importing.decoding import decode
from studio.importing.delimited import delimiter_of, rows_of
from studio.importing.heading_words import words_known
from studio.importing.table import Finding, Row, Table, looks_like_a_formula
from studio.importing.workbook import NotAWorkbook, read_workbook

OTHERS = {
    b"\xd0\xcf\x11\xe0": "an old workbook (XLS)",
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"GIF8": "a picture",
}
NOT_A_TABLE = "This is {what}, not a table. Save the list as CSV or XLSX and choose that file."
MOST_ROWS = 50_000
LONGEST_CELL = 5_000


def read_file(content: bytes, sheet: str = "") -> Table:
    if content[:4] == b"PK\x03\x04":
        try:
            return _looked_over(read_workbook(content, sheet))
        except NotAWorkbook as error:
            return Table("xlsx", "", errors=(Finding(str(error), row=1),))
    for start, what in OTHERS.items():
        if content.startswith(start):
            return Table("", "", errors=(Finding(NOT_A_TABLE.format(what=what), row=1),))
    return _looked_over(_read_text(content))


def _read_text(content: bytes) -> Table:
    decoded = decode(content)
    if len(re.findall(r"[\x00-\x08\x0e-\x1f]", decoded.text[:4000])) > len(decoded.text[:4000]) / 50:
        return Table("", "", errors=(Finding(NOT_A_TABLE.format(what="no text"), row=1),))
    delimiter, text = delimiter_of(decoded.text, words_known)
    doubt = (
        (Finding(decoded.doubt + " Are the letters right?", column="(encoding)"),) if decoded.doubt else ()
    )
    first_line = 1 if text == decoded.text else 2
    rows = tuple(rows_of(text, delimiter, first_line)) if text else ()
    return Table(decoded.encoding, delimiter, rows, doubt)


def _looked_over(table: Table) -> Table:
    """Says which cells look damaged, computed or endless, and refuses what is too much."""
    if not any(row.filled for row in table.rows) and not table.errors:
        nothing = Finding("There is nothing in this file. Choose the one with the list.", row=1)
        return Table(table.encoding, table.delimiter, (), table.questions, (*table.errors, nothing))
    errors, questions = list(table.errors), list(table.questions)
    if len(table.rows) > MOST_ROWS:
        errors.append(Finding(f"More than {MOST_ROWS:,} rows. Split the file.", row=MOST_ROWS + 1))
    for row in table.rows[:MOST_ROWS]:
        for index, cell in row.filled:
            where = f"column {index + 1}" + (f", line {row.line}" if row.line != row.number else "")
            if "\ufffd" in cell:
                errors.append(
                    Finding(f"{where}: “{cell[:60]}” holds bytes that are not {table.encoding}.", row.number)
                )
            if len(cell) > LONGEST_CELL:
                errors.append(Finding(f"{where}: a cell of {len(cell)} letters. Shorten it.", row.number))
            if table.delimiter and looks_like_a_formula(cell):
                questions.append(
                    Finding(f"{where}: “{cell[:60]}” looks like a formula; taken as text. Right?", row.number)
                )
    rows = tuple(_cut(row) for row in table.rows[:MOST_ROWS])
    return Table(table.encoding, table.delimiter, rows, tuple(questions), tuple(errors))


def _cut(row: Row) -> Row:
    """A row with an endless cell is an error already; nothing else has to read on to its end."""
    if all(len(cell) <= LONGEST_CELL for cell in row.cells):
        return row
    return Row(row.number, row.line, tuple(cell[:LONGEST_CELL] for cell in row.cells))
