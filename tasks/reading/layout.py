"""Lines to rows: table columns, row numbers, bullets, wrapped rows. Says where a list has its entries."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from tasks.reading.items import Item, Line
from tasks.reading.text import key_of

CHANNEL_WORD = (
    r"(?:ch(?:an(?:nel)?)?s?|inputs?|in|line|kanal|kan|canale?|voie|piste|spur|tra?c?k?|no|nr|n°|nº)"
)
PREFIX = re.compile(
    rf"[ \t>|]*(?:[-*•·▪◦‣–—●○■□➢➤✓☐][ \t]*)?({CHANNEL_WORD}\b\.?[ \t]*)?(#?)(\d{{1,3}})"
    rf"(?:[ \t]*(?:[-–/&+,]|and|und|et|y|e|to|bis|à|a)[ \t]*(?:{CHANNEL_WORD}\.?[ \t]*)?(\d{{1,3}}))?"
    r"(?:[ \t]*([.):\]|=/°]+|[-–—](?=[ \t]))|(?=[ \t]))",
    re.IGNORECASE,
)
BULLET = re.compile(r"[ \t>|]*(?:[-*•·▪◦‣–—●○■□➢➤✓☐+]+|\[[ xX]?\])[ \t]+")
RULER = re.compile(r"[\s|:+\-=_*~.#—–•·]+")
NUMBER_ROLE = {"ch", "#", "no", "nr", "n°", "nº", "num", "number", "kanal", "kan", "kanalnr", "canal", "canale", "voie", "piste", "kanaal", "track", "tr", "trk", "line", "in", "channel", "spur", "inputnr", "innr", "ch#", "in#"}  # fmt: skip
SOURCE_ROLE = {"source", "sources", "instrument", "instruments", "instr", "description", "signal", "quelle", "fuente", "instrumento", "instrumentos", "strumento", "strumenti", "sorgente", "bron", "item", "label", "instrumente", "instrumenten", "part", "parts", "stimme"}  # fmt: skip
MAYBE_SOURCE_ROLE = ("input", "inputs", "name", "channel", "channels", "track", "tracks", "eingang", "entrada", "ingresso", "entree", "ingang", "type", "musiker", "voie", "canal", "canale", "kanal", "kanaal", "piste", "player")  # fmt: skip
MIC_ROLE = ("mic", "mics", "mikro", "mikrofon", "micro", "micros", "microphone", "microfono", "microfoon", "di", "ideal", "pickup", "preferred", "suggested", "1stchoice", "firstchoice", "wunsch", "wunschmikrofon", "mictype", "type", "preferredmic", "choix", "micdi")  # fmt: skip
COUNT_ROLE = {"qty", "quantity", "count", "anzahl", "quantite", "cantidad", "quantita", "aantal"}


@dataclass(slots=True)
class Cell:
    """A cell of a table row; role is number, source, mic, count or note."""

    start: int
    end: int
    role: str = ""


@dataclass(slots=True)
class Row:
    """What may hold entries: a line, a part of a wrapped line, or a table row with its cells."""

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


def rows_of(lines: Sequence[Line]) -> list[Row]:
    """The rows of a text, top to bottom; blank lines give none."""
    rows: list[Row] = []
    columns: list[str] | None = None
    delimiter = ""
    for number, line in enumerate(lines):
        if line.blank:
            continue
        if RULER.fullmatch(line.text):
            rows.append(Row(number, line.start, line.end, line.items, ruler=True))
            continue
        header = _header(line, lines[number + 1 : number + 4])
        if header is not None:
            delimiter, columns = header
            rows.append(Row(number, line.start, line.end, line.items, header=True))
            continue
        cells = _cells(line, delimiter, columns) if columns is not None and delimiter else []
        if cells:
            rows.append(_table_row(number, line, cells))
        else:
            rows.append(
                Row(number, line.start, line.end, line.items, headed=columns is not None and not delimiter)
            )
    plain = [row for row in rows if not (row.cells or row.header or row.ruler)]
    _number(plain, lines)
    _number_from_tail(plain, lines)
    return [part for row in rows for part in _unwrapped(row, lines[row.line])]


def split_cells(line: Line, delimiter: str) -> list[tuple[int, int]]:
    """Where the cells of a line stand, quotes and outer pipes left out."""
    spans, at, quoted, begin = [], line.start, False, line.start
    for at, char in enumerate(line.text, start=line.start):
        if char == '"' and delimiter in (",", ";", "\t"):
            quoted = not quoted
        elif char == delimiter and not quoted:
            spans.append((begin, at))
            begin = at + 1
    spans.append((begin, line.end))
    if delimiter == "|" and len(spans) > 2:
        spans = spans[1:] if not line.text[: spans[0][1] - line.start].strip() else spans
        spans = spans[:-1] if not line.text[spans[-1][0] - line.start :].strip() else spans
    return [_trim(line, start, end) for start, end in spans]


def _trim(line: Line, start: int, end: int) -> tuple[int, int]:
    cell = line.text[start - line.start : end - line.start]
    core = cell.strip(" \t\r*")
    quoted = len(core) >= 2 and core[0] == core[-1] == '"'
    begin = start + (cell.index(core) if core else 0)
    return (begin + 1, begin + len(core) - 1) if quoted else (begin, begin + len(core))


def _header(line: Line, following: Sequence[Line]) -> tuple[str, list[str]] | None:
    for delimiter in ("|", "\t", ";", ","):
        if line.text.count(delimiter) == 0:
            continue
        names = [line.text[a - line.start : b - line.start] for a, b in split_cells(line, delimiter)]
        words = [_is_header_cell(name) for name in names]
        if sum(words) >= 2 and sum(words) * 2 >= sum(1 for name in names if name.strip()):
            roles = _roles(names)
            if "source" in roles and _goes_on(following, delimiter):
                return delimiter, roles
    words_ = [item for item in line.items if not item.symbol]
    named = [item for item in words_ if item.is_("header")]
    if 2 <= len(words_) <= 12 and len(named) == len(words_):
        keys = {item.key for item in named}
        if keys & SOURCE_ROLE or (keys & set(MAYBE_SOURCE_ROLE) and keys & set(MIC_ROLE)):
            return "", []
    return None


def _goes_on(following: Sequence[Line], delimiter: str) -> bool:
    filled = [line for line in following if not line.blank]
    return not filled or any(delimiter in line.text for line in filled)


def _is_header_cell(name: str) -> bool:
    parts = [key_of(part) for part in re.split(r"[/\s]+", name) if key_of(part)]
    known = {*NUMBER_ROLE, *SOURCE_ROLE, *MAYBE_SOURCE_ROLE, *MIC_ROLE, *COUNT_ROLE, *_OTHER_HEADERS}
    return bool(parts) and len(parts) <= 4 and (key_of(name) in known or any(part in known for part in parts))


_OTHER_HEADERS = frozenset(
    key_of(word)
    for word in ["stand", "stands", "notes", "note", "comments", "comment", "remarks", "remark", "patch", "insert", "inserts", "phantom", "48v", "p48", "position", "musician", "stativ", "bemerkung", "bemerkungen", "anmerkung", "anmerkungen", "pied", "pieds", "remarque", "remarques", "musicien", "soporte", "pie", "notas", "observaciones", "músico", "asta", "supporto", "musicista", "statief", "opmerking", "opmerkingen", "muzikant", "stage", "box", "stagebox", "sub", "preamp", "foh", "mon", "group", "dca", "vca", "alternative", "alt", "alternate", "mínimo", "minimum", "location", "colour", "pan", "eq", "gate", "comp", "fx", "processing", "cable", "snake", "gain", "level", "ground", "power", "responsible", "alternativ", "platz", "doubling", "chair", "desk"]
)


def _roles(names: Sequence[str]) -> list[str]:
    roles = [_role(name) for name in names]
    if "source" not in roles:
        for wanted in MAYBE_SOURCE_ROLE:
            for at, name in enumerate(names):
                if (
                    wanted in _parts(name)
                    and roles[at] != "mic"
                    and roles.count("number") - (roles[at] == "number") >= 0
                ):
                    if (
                        roles[at] == "number"
                        and at == 0
                        and len(names) > 1
                        and wanted in ("channel", "canal", "canale", "kanal", "kanaal", "voie", "piste")
                        and "number" in roles[1:]
                    ):
                        continue
                    roles[at] = "source"
                    return roles
    return roles


def _parts(name: str) -> list[str]:
    return [key_of(name), *(key_of(part) for part in re.split(r"[/\s]+", name))]


def _role(name: str) -> str:
    parts = _parts(name)
    if any(part in SOURCE_ROLE for part in parts):
        return "source"
    if any(part in MIC_ROLE for part in parts):
        return "mic"
    if any(part in COUNT_ROLE for part in parts):
        return "count"
    if any(part in NUMBER_ROLE for part in parts):
        return "number"
    return "note"


def _cells(line: Line, delimiter: str, columns: Sequence[str]) -> list[Cell]:
    if delimiter not in line.text:
        return []
    spans = split_cells(line, delimiter)
    return [
        Cell(start, end, columns[at] if at < len(columns) else "note")
        for at, (start, end) in enumerate(spans)
    ]


def _table_row(number: int, line: Line, cells: list[Cell]) -> Row:
    source = next((cell for cell in cells if cell.role == "source"), None)
    width = 1
    for cell in cells:
        if cell.role == "number":
            match = re.fullmatch(
                r"\D*(\d{1,3})\s*[-–/&+,]\s*(\d{1,3})\D*",
                line.text[cell.start - line.start : cell.end - line.start],
            )
            width = _width(match[1], match[2]) if match else 1
    start, end = (source.start, source.end) if source else (line.start, line.end)
    items = [item for item in line.items if start <= item.start and item.end <= end]
    return Row(
        number, start, end, items, numbered=True, width=width, cells=cells, headed=True, all_items=line.items
    )


def _width(first: str, last: str | None) -> int:
    if last is None:
        return 1
    return max(1, min(64, int(last) - int(first) + 1)) if int(last) > int(first) else 1


def _number(rows: Sequence[Row], lines: Sequence[Line]) -> None:
    """Marks rows that begin with a row number, and moves their start behind it."""
    found = [(row, match) for row in rows if (match := PREFIX.match(lines[row.line].text))]
    weak = [(row, match) for row, match in found if not (match[1] or match[2] or match[5])]
    ranks = _rank_of_weak(weak)
    for row, match in found:
        if (match[1] or match[2] or match[5] or ranks) and _content(row, lines[row.line].start + match.end()):
            row.numbered = True
            row.width = _width(match[3], match[4])
            row.start = lines[row.line].start + match.end()
            row.items = [item for item in row.items if item.start >= row.start]
    for row in rows:
        match = BULLET.match(lines[row.line].text)
        if match and not row.numbered:
            row.bullet = True
            row.start = max(row.start, lines[row.line].start + match.end())
            row.items = [item for item in row.items if item.start >= row.start]


def _content(row: Row, start: int) -> bool:
    rest = [item for item in row.items if item.start >= start]
    if rest and rest[0].is_("times", "inch", "piece") and rest[0].gap <= 1 and not rest[0].hits:
        return False
    return any(not item.symbol for item in rest)


def _rank_of_weak(weak: Sequence[tuple[Row, re.Match[str]]]) -> bool:
    """Whether bare leading numbers are row numbers: they climb, and mostly don't agree with a plural after them."""
    numbers = [int(match[3]) for _, match in weak]
    if len(numbers) < 2 or any(b <= a for a, b in zip(numbers, numbers[1:], strict=False)):
        return False
    several = [row for row, match in weak if int(match[3]) > 1 and not match[4]]
    plural = sum(1 for row in several if _first_is_plural(row))
    return plural * 2 < max(1, len(several)) or len(numbers) >= 8


def _first_is_plural(row: Row) -> bool:
    for item in row.items:
        if item.hits:
            return item.plural and not any(not hit.plural for hit in item.hits)
    return False


def _number_from_tail(rows: Sequence[Row], lines: Sequence[Line]) -> None:
    """Channel numbers written behind the names: "Kick 1", "Snare 2", "Hat 3", one up each row."""
    tails = []
    for row in rows:
        match = re.search(r"(?<![\d\-–])\s(?:ch\.?\s*)?(\d{1,3})\s*$", lines[row.line].text, re.IGNORECASE)
        if match is None or row.numbered:
            tails = tails if len(tails) >= 4 else []
            continue
        tails.append((row, int(match[1]), lines[row.line].start + match.start()))
    numbers = [number for _, number, _ in tails]
    names = {row.items[0].key for row, _, _ in tails if row.items}
    if (
        len(numbers) >= 4
        and numbers == list(range(numbers[0], numbers[0] + len(numbers)))
        and len(names) >= 3
    ):
        for row, _, end in tails:
            row.numbered = True
            row.end = end
            row.items = [item for item in row.items if item.end <= end]


def _unwrapped(row: Row, line: Line) -> Iterable[Row]:
    """A numbered row that goes on with the next numbers on the same line gives a row for each."""
    if not row.numbered or row.cells:
        yield row
        return
    match = PREFIX.match(line.text)
    number = int(match[4] or match[3]) if match else 0
    items, begin = row.items, 0
    for at in range(1, len(items) - 1):
        item = items[at]
        after = at + 1
        while after < len(items) and items[after].symbol and items[after].raw in ".):-":
            after += 1
        if (
            number
            and item.number == number + 1
            and item.is_("figure")
            and after < len(items)
            and items[after].hits
            and at > begin
        ):
            yield _part(row, items[begin:at])
            number, begin = number + 1, after
    yield _part(row, items[begin:]) if begin else row


def _part(row: Row, items: list[Item]) -> Row:
    return Row(row.line, items[0].start, items[-1].end, items, numbered=True, headed=row.headed)
