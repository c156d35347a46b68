"""Text with delimiters to rows: which delimiter, and fields read so that one stray quotation mark harms one cell."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator

from studio.importing.table import Row, tidy

DELIMITERS = [",", ";", "\t", "|"]
SAMPLED = 60
LONGEST_FIELD = 20_000
LINE_END = re.compile(r"\r\n|\r|\n")
BLANKS = re.compile(" *")
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
        return often / widths.total() * (1 - 1 / width) + 2 * known if width > 1 else 0

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
    bare = re.compile(rf"[^{re.escape(delimiter)}\r\n]*")
    rows: Raw = []
    cells: list[str] = []
    place, line, began = 0, 1, 1
    while place <= len(text):
        quoted = _quoted(text, place, delimiter)
        found = quoted or _bare(bare, text, place)
        cells.append(found[0])
        line += len(LINE_END.findall(text, place, found[1])) if quoted else 0
        place = found[1]
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


def _bare(pattern: re.Pattern[str], text: str, place: int) -> tuple[str, int]:
    found = pattern.match(text, place)
    return (found[0], found.end()) if found else ("", place)


def _quoted(text: str, place: int, delimiter: str) -> tuple[str, int] | None:
    """The field that is quoted from here, and where it ends. None: it isn't, or nothing closes it."""
    opening = BLANKS.match(text, place)
    start = opening.end() if opening else place
    if text[start : start + 1] != '"':
        return None
    closing = text.find('"', start + 1, start + LONGEST_FIELD)
    while closing >= 0 and text[closing + 1 : closing + 2] == '"':
        closing = text.find('"', closing + 2, start + LONGEST_FIELD)
    after = BLANKS.match(text, closing + 1)
    end = after.end() if after else closing + 1
    if closing < 0 or (end < len(text) and text[end] not in f"{delimiter}\r\n"):
        return None
    return text[start + 1 : closing].replace('""', '"'), end
