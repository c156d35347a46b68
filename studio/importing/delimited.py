"""Text with delimiters to rows: which delimiter, and fields read so that one stray quotation mark harms one cell."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator

from studio.importing.table import Row, tidy

DELIMITERS = [",", ";", "\t", "|"]
SAMPLED = 60
Raw = list[tuple[int, list[str]]]


def delimiter_of(text: str, heading_words: Callable[[list[str]], int]) -> tuple[str, str]:
    """The delimiter and the text without a first line `sep=;`. heading_words counts known headings in a row."""
    if named := re.match(r"\s*\"?sep=(.)\"?\r?\n", text):
        return named[1], text[named.end() :]
    sample = "\n".join(re.split(r"\r\n|\r|\n", text, maxsplit=SAMPLED * 3)[: SAMPLED * 3])

    def merit(delimiter: str) -> float:
        rows = [cells for _, cells in split(sample, delimiter)][:SAMPLED]
        widths = Counter(len(row) for row in rows if any(cell.strip() for cell in row))
        if not widths:
            return 0
        width, often = max(widths.items(), key=lambda pair: (pair[0] > 1, pair[1]))
        known = max((heading_words(row) for row in rows), default=0)
        return (often / widths.total() + 2 * known) if width > 1 else 0

    return max(DELIMITERS, key=merit), text


def rows_of(text: str, delimiter: str, first_line: int = 1) -> Iterator[Row]:
    """first_line: 2 after a line that names the delimiter, which a spreadsheet program does not show as a row."""
    for number, (line, cells) in enumerate(split(text, delimiter), 1):
        yield Row(number, line + first_line - 1, tuple(tidy(cell) for cell in cells))


def split(text: str, delimiter: str) -> Raw:
    """Rows as (line, cells), RFC 4180 where a file follows it.

    A quotation mark opens a quoted field only if one that closes it stands before a delimiter or the end of a
    line; any other is an ordinary letter, so an unclosed one never swallows the rows below it.
    """
    edge = re.escape(delimiter)
    field = re.compile(rf'[ ]*"((?:[^"]++|"")*+)"[ ]*(?={edge}|\r|\n|\Z)|([^{edge}\r\n]*)')
    rows: Raw = []
    cells: list[str] = []
    place, line, began = 0, 1, 1
    while place <= len(text):
        found = field.match(text, place)
        if found is None:
            break
        quoted, bare = found.groups()
        cells.append(bare if quoted is None else quoted.replace('""', '"'))
        line += len(re.findall(r"\r\n|\r|\n", found[0]))
        place = found.end()
        if text[place : place + 1] == delimiter:
            place += 1
            continue
        rows.append((began, cells))
        place += 2 if text[place : place + 2] == "\r\n" else 1
        line, cells = line + 1, []
        began = line
        if place >= len(text):
            break
    return rows
