"""Lines to rows: table rows, row numbers, bullets, wrapped rows. Says where a list has its entries."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from tasks.reading.columns import RULER, Cell, Table, cells_of, header_of
from tasks.reading.items import Item, Line

CHANNEL_WORD = (
    r"(?:ch(?:an(?:nel)?)?s?|inputs?|in|line|kanal|kan|canale?|voie|piste|spur|track|trk|no|nr|n°|nº)"
)
MARK = r"[-*•·▪◦‣–—●○■□➢➤✓☐]"
PREFIX = re.compile(
    rf"[ \t>|]*(?:{MARK}[ \t]*)?({CHANNEL_WORD}(?![a-z])\.?[ \t]*)?(#?)(\d{{1,3}})(?!\d)"
    rf"(?:[ \t]*(?:[-–/&+,]|and|und|et|y|e|to|bis|à|a)[ \t]*(?:{CHANNEL_WORD}\.?[ \t]*)?(\d{{1,3}})(?!\d))?"
    r"(?:[ \t]*([.):\]|=/°]+(?!\d)|[-–—](?=[ \t]))|(?=[ \t]))",
    re.IGNORECASE,
)
BULLET = re.compile(r"[ \t>|]*(?:[-*•·▪◦‣–—●○■□➢➤✓☐+]+|\[[ xX]?\])[ \t]+")
TAIL = re.compile(r"(?<![\d\-–])\s(?:ch\.?\s*)?(\d{1,3})\s*$", re.IGNORECASE)
MOST_ITEMS = 200
COLUMN_GAP = 2
SHORTEST_RUN = 3
LONG_RUN = 8
SURE_RUN = 5
MOST_WIDE = 64
FEWEST_TAILS = 4
LINES_BELOW = 12


@dataclass(slots=True)
class Row:
    """What may hold entries: a line, a part of a wrapped line, or the source cell of a table row.

    numbered: one row stands for width channels. headed: a table header stands above. items: those of the row's span;
    all_items: those of the whole line, for the other cells. tail: a number at the end counts.
    """

    line: int
    start: int
    end: int
    items: list[Item]
    numbered: bool = False
    width: int = 1
    bullet: bool = False
    cells: list[Cell] = field(default_factory=list)
    header: bool = False
    ruler: bool = False
    headed: bool = False
    all_items: list[Item] = field(default_factory=list)

    @property
    def words(self) -> list[Item]:
        return [item for item in self.items if not item.symbol]


Numbered = tuple[Row, re.Match[str]]


def rows_of(lines: Sequence[Line]) -> list[Row]:
    """The rows of a text, top to bottom; blank lines give none."""
    rows: list[Row] = []
    table: Table | None = None
    for number, line in enumerate(lines):
        if line.blank:
            continue
        if RULER.fullmatch(line.text):
            rows.append(Row(number, line.start, line.end, line.items, ruler=True))
            continue
        opened = header_of(line, lines[number + 1 : number + 1 + LINES_BELOW])
        if opened is not None:
            table = opened
            rows.append(Row(number, line.start, line.end, line.items, header=True))
            continue
        cells = cells_of(line, table) if table is not None else []
        headed = table is not None and not table.delimiter
        rows.append(_table_row(number, line, cells) if cells else _plain(number, line, headed))
    plain = [row for row in rows if not (row.cells or row.header or row.ruler)]
    _mark_numbers(plain, lines)
    _mark_tails(plain, lines)
    unwrapped = [part for row in rows for part in _unwrapped(row, lines[row.line])]
    return [part for row in unwrapped for part in _in_reach(row)]


def _in_reach(row: Row) -> Iterable[Row]:
    """A row of very many words in pieces, so that the time to read a line stays in proportion to its length."""
    if len(row.items) <= MOST_ITEMS or row.cells or row.header or row.ruler:
        yield row
        return
    for begin in range(0, len(row.items), MOST_ITEMS):
        items = row.items[begin : begin + MOST_ITEMS]
        yield replace(row, start=items[0].start, end=items[-1].end, items=items)


def _plain(number: int, line: Line, headed: bool) -> Row:
    return Row(number, line.start, line.end, line.items, headed=headed)


def _table_row(number: int, line: Line, cells: list[Cell]) -> Row:
    source = next((cell for cell in cells if cell.role == "source"), None)
    width = max((_cell_width(line, cell) for cell in cells if cell.role == "number"), default=1)
    start, end = (source.start, source.end) if source else (line.start, line.end)
    items = [item for item in line.items if start <= item.start and item.end <= end]
    return Row(
        number, start, end, items, numbered=True, width=width, cells=cells, headed=True, all_items=line.items
    )


def _cell_width(line: Line, cell: Cell) -> int:
    text = line.text[cell.start - line.start : cell.end - line.start]
    match = re.fullmatch(r"\D{0,9}(\d{1,3})\s*[-–/&+,]\s*(\d{1,3})\D{0,9}", text)
    return _width(match[1], match[2]) if match else 1


def _width(first: str, last: str | None) -> int:
    if last is None or int(last) <= int(first):
        return 1
    return min(MOST_WIDE, int(last) - int(first) + 1)


def _mark_numbers(rows: Sequence[Row], lines: Sequence[Line]) -> None:
    """Marks rows that begin with a row number or a bullet, and moves their start behind it."""
    found = [(row, match) for row in rows if (match := PREFIX.match(lines[row.line].text))]
    for run in _climbing_runs(found):
        weak = [(row, match) for row, match in run if not _is_strong(match)]
        numbers = _are_row_numbers(weak, run, alone=len(run) == len(found)) or all(
            map(_goes_on_counting, run)
        )
        for row, match in run:
            begin = lines[row.line].start + match.end()
            if (_is_strong(match) or numbers) and (len(run) >= SURE_RUN or _has_content(row, begin)):
                row.numbered = True
                row.width = _width(match[3], match[4])
                _cut_front(row, begin)
    for row in rows:
        bullet = BULLET.match(lines[row.line].text)
        if bullet and not row.numbered:
            row.bullet = True
            _cut_front(row, max(row.start, lines[row.line].start + bullet.end()))


def _goes_on_counting(numbered: Numbered) -> bool:
    """ "1 Kick 2 Snare 3 Vox": a single line that counts its entries itself."""
    row, match = numbered
    number, steps, at = int(match[4] or match[3]), 0, 1
    while at < len(row.items):
        found = _next_row(row.items, at, number)
        if found is not None and row.items[found.begin].plural:
            return False
        number, steps, at = (
            (found.number, steps + 1, found.begin) if found is not None else (number, steps, at + 1)
        )
    return steps >= 2


def _is_strong(match: re.Match[str]) -> bool:
    return bool(match[1] or match[2] or match[5])


def _cut_front(row: Row, begin: int) -> None:
    row.start = begin
    row.items = [item for item in row.items if item.start >= begin]


def _has_content(row: Row, begin: int) -> bool:
    rest = [item for item in row.items if item.start >= begin]
    if rest and rest[0].is_("times", "inch", "piece") and rest[0].gap <= 1 and not rest[0].hits:
        return False
    return any(not item.symbol for item in rest)


def _climbing_runs(found: Sequence[Numbered]) -> list[list[Numbered]]:
    """The numbered rows in runs that climb; a second list of the same text begins a run of its own."""
    runs: list[list[Numbered]] = []
    for row, match in found:
        if runs and int(match[3]) > int(runs[-1][-1][1][4] or runs[-1][-1][1][3]):
            runs[-1].append((row, match))
        else:
            runs.append([(row, match)])
    return runs


def _are_row_numbers(weak: Sequence[Numbered], run: Sequence[Numbered], alone: bool) -> bool:
    """Whether bare leading numbers of a climbing run are row numbers: mostly no plural agrees with them.

    Two rows are too few to tell unless they are all that is numbered.
    """
    if len(run) < SHORTEST_RUN and not (alone and len(run) > 1):
        return False
    several = [row for row, match in weak if int(match[3]) > 1 and not match[4]]
    plural = sum(1 for row in several if _begins_plural(row))
    return plural * 2 < max(1, len(several)) or len(weak) >= LONG_RUN


def _begins_plural(row: Row) -> bool:
    named = next((item for item in row.items if item.hits), None)
    return named is not None and all(hit.plural for hit in named.hits)


def _mark_tails(rows: Sequence[Row], lines: Sequence[Line]) -> None:
    """Channel numbers written behind the names: "Kick 1", "Snare 2", "Hat 3", one up each row."""
    tails = []
    for row in rows:
        match = None if row.numbered else TAIL.search(lines[row.line].text)
        if match is not None:
            tails.append((row, int(match[1]), lines[row.line].start + match.start()))
    numbers = [number for _, number, _ in tails]
    names = {row.items[0].key for row, _, _ in tails if row.items}
    one_up = numbers == list(range(numbers[0], numbers[0] + len(numbers))) if numbers else False
    if len(numbers) >= FEWEST_TAILS and one_up and len(names) * 2 > len(numbers):
        for row, _, end in tails:
            row.numbered, row.end = True, end
            row.items = [item for item in row.items if item.end <= end]


def _unwrapped(row: Row, line: Line) -> Iterable[Row]:
    """A numbered row that goes on with further numbers on the same line gives a row for each."""
    match = PREFIX.match(line.text) if row.numbered and not row.cells else None
    if match is None:
        yield row
        return
    number, width, begin, items = int(match[4] or match[3]), row.width, 0, row.items
    at = 1
    while at < len(items):
        found = _next_row(items, at, number) if at > begin else None
        if found is not None:
            yield _part(row, items[begin:at], width)
            at = begin = found.begin
            number, width = found.number, found.width
        at += 1
    yield _part(row, items[begin:], width) if begin else row


@dataclass(frozen=True, slots=True)
class Next:
    """Where the words of the next row on a line begin, the last number of it and how many channels it has."""

    begin: int
    number: int
    width: int


def _next_row(items: Sequence[Item], at: int, number: int) -> Next | None:
    """The next row of a line, if its number stands here: one up, or in the next column; before a source or a colon."""
    first = items[at].number
    if first is None or not items[at].is_("figure") or first <= number:
        return None
    column = items[at].gap >= COLUMN_GAP
    if first != number + 1 and not column:
        return None
    last, after = first, at + 1
    if after + 1 < len(items) and items[after].raw in "-–/+&" and items[after + 1].number is not None:
        last, after = items[after + 1].number or first, after + 2
    marked = False
    while after < len(items) and items[after].symbol and items[after].raw in ".):-":
        after, marked = after + 1, True
    if after >= len(items):
        return None
    parted = items[at - 1].symbol and items[at - 1].raw in ",;|/"
    if not (items[after].hits or (marked and parted)):
        return None
    return Next(after, last, _width(str(first), str(last)))


def _part(row: Row, items: list[Item], width: int) -> Row:
    while items and items[-1].symbol and items[-1].raw in ",;|/":
        items = items[:-1]
    return replace(row, start=items[0].start, end=items[-1].end, items=items, width=width)
