"""Merged cells of a workbook: a text that stands over several rows or columns, put where a reader means it to be."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from zipfile import ZipFile

from studio.importing.amounts import currency_of
from studio.importing.heading_words import INVENTORY, LOG, known_field
from studio.importing.table import Finding

MERGED = re.compile(rb'<(?:\w+:)?mergeCell ref="([A-Z]{1,3})(\d+):([A-Z]{1,3})(\d+)"')
WIDE = 3
SHOWN = 3
NUMBERING = re.compile(r"^(?:\d{1,2}|[IVX]{1,4}|[A-Z])[.)]?$")


@dataclass(frozen=True, slots=True)
class Block:
    """From 0, ends included."""

    top: int
    left: int
    bottom: int
    right: int


def blocks_in(archive: ZipFile, path: str) -> list[Block]:
    """Of one sheet, by its path in the workbook; where the file names none there, none."""
    try:
        sheet = archive.read(path.lstrip("/"))
    except KeyError:
        return []
    return [
        Block(int(top) - 1, _column(left), int(bottom) - 1, _column(right))
        for left, top, right, bottom in MERGED.findall(sheet)
    ]


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - ord("A") + 1
    return number - 1


def spread(rows: list[list[str]], blocks: list[Block]) -> list[Finding]:
    """Changes the rows in place; what was put into cells that are empty in the file is asked about once."""
    told: list[str] = []
    for block in blocks:
        text = _cell(rows, block.top, block.left)
        if not text:
            continue
        if block.bottom > block.top:
            filled = list(_down(rows, block, text))
            told += [f"“{text[:40]}” of row {block.top + 1} for row {filled[0]} to {filled[-1]}"] * bool(
                filled
            )
        elif block.right - block.left + 1 >= WIDE:
            _over_rows(rows[block.top], block, text)
        else:
            _over_columns(rows[block.top], block, text)
    if not told:
        return []
    more = f" and {len(told) - SHOWN} more" if len(told) > SHOWN else ""
    return [
        Finding(f"Taken from merged cells: {'; '.join(told[:SHOWN])}{more}. Right?", column="(merged cells)")
    ]


def _cell(rows: list[list[str]], row: int, column: int) -> str:
    return rows[row][column] if row < len(rows) and column < len(rows[row]) else ""


def _down(rows: list[list[str]], block: Block, text: str) -> Iterator[int]:
    """Words hold for every row that they stand beside; an amount or a count may be that of all together."""
    if not re.search(r"[^\W\d_]{2}", text) or currency_of(text):
        return
    for number in range(block.top + 1, min(block.bottom + 1, len(rows))):
        row = rows[number]
        if any(row) and not _cell(rows, number, block.left):
            row += [""] * (block.left + 1 - len(row))
            row[block.left] = text
            yield number + 1


def _over_rows(row: list[str], block: Block, text: str) -> None:
    """A text across the sheet, alone or behind its numbering, is a heading over the rows below: a colon says so."""
    others = [cell for column, cell in enumerate(row) if cell and column != block.left]
    if text[-1] in ":." or any(not NUMBERING.match(cell) for cell in others):
        return
    for column in range(len(row)):
        row[column] = ""
    row[block.left] = " ".join([text, *(f"({cell})" for cell in others)]) + ":"


def _over_columns(row: list[str], block: Block, text: str) -> None:
    """“Make / model” over two columns is a heading for each of them."""
    parts = [part.strip() for part in text.split("/")]
    if len(parts) != block.right - block.left + 1:
        return
    if all(known_field(part, INVENTORY) or known_field(part, LOG) for part in parts):
        row += [""] * (block.right + 1 - len(row))
        row[block.left : block.right + 1] = parts
