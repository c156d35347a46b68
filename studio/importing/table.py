"""A table as a file holds it: rows with the numbers that a spreadsheet program shows, and what was odd on the way."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

INVISIBLE = re.compile("[\ufeff\u200b\u200e\u200f\u2060\x00]")
NEUTRALISED = re.compile(r"'+[=+\-@\t\r＝＋－＠]")
KEPT_AS_TEXT = re.compile(r"""="{1,2}([^"=]+)"{1,2}|'(\d[\w./-]*)""")
"""How spreadsheet programs are told to keep zeros in front: =\"00012\" and '00012."""
NUMBER = re.compile(r"-?\d+(?:[.,]\d+)?")
LIKE_A_FORMULA = re.compile(r"^[=@＝＠]|^[+\-＋－](?![\s\d.,]*$)(?=.*[(!$]|[A-Za-z]{1,3}\d)")


@dataclass(frozen=True, slots=True)
class Finding:
    """Something to say of a row or a column. key and options: an answer to a question comes back under that key.

    options are (value, words). With a key and without options, the answer is free text.
    """

    what: str
    row: int | None = None
    column: str | None = None
    key: str = ""
    options: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """number: as a spreadsheet program counts, from 1. line: where it begins in the file, from 1."""

    number: int
    line: int
    cells: tuple[str, ...]

    @property
    def filled(self) -> list[tuple[int, str]]:
        return [(index, cell) for index, cell in enumerate(self.cells) if cell]

    def cell(self, index: int | None) -> str:
        return self.cells[index] if index is not None and index < len(self.cells) else ""


@dataclass(frozen=True, slots=True)
class Table:
    """delimiter is empty for a workbook. Rows hold text only, in NFC, without blanks around it."""

    encoding: str
    delimiter: str
    rows: tuple[Row, ...] = ()
    questions: tuple[Finding, ...] = ()
    errors: tuple[Finding, ...] = ()


def tidy(text: str) -> str:
    """NFC, ordinary spaces, none around it, no invisible marks; a neutralised formula gets its own text back."""
    text = unicodedata.normalize("NFC", text).replace("\u00a0", " ").replace("\u202f", " ")
    text = INVISIBLE.sub("", text).strip()
    if kept := KEPT_AS_TEXT.fullmatch(text):
        return kept[1] or kept[2]
    return text[1:] if NEUTRALISED.match(text) else text


def neutralised(text: str) -> str:
    """Text that no spreadsheet program computes: `tidy` gives it back as it was. A negative number stays one."""
    if NUMBER.fullmatch(text):
        return text
    return f"'{text}" if re.match(r"'*[=+\-@\t\r＝＋－＠]", text) else text


def looks_like_a_formula(text: str) -> bool:
    return bool(LIKE_A_FORMULA.match(text))
