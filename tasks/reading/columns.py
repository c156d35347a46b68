"""Tables: which line is a header, what its columns mean, and the cells of the lines below."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

from tasks.reading.items import Item, Line
from tasks.reading.text import key_of

COLUMNS = Path(__file__).parent / "data" / "columns.toml"
DELIMITERS = ("|", "\t", ";", ",")
MOST_HEADER_WORDS = 12
LONGEST_NAME = 40
FEWEST_ROWS = 3
RULER = re.compile(r"[\s|:+\-=_*~.#—–•·]+")
JOINTS_OF_NAMES = re.compile(r"[/\s().:-]+")


@dataclass(slots=True)
class Cell:
    """A cell of a table row; role is number, source, mic, count or note."""

    start: int
    end: int
    role: str


@dataclass(frozen=True, slots=True)
class Table:
    """delimiter is empty for a header whose columns are parted by single blanks."""

    delimiter: str
    roles: tuple[str, ...] = ()


@cache
def _roles_by_word() -> Mapping[str, str]:
    data = tomllib.loads(COLUMNS.read_text(encoding="utf-8"))
    roles: dict[str, str] = {}
    for role in ("source", "mic", "count", "number", "note", "maybe_source"):
        for word in data[role]:
            roles.setdefault(key_of(word), role)
    return roles


@cache
def _maybe_sources() -> tuple[str, ...]:
    data = tomllib.loads(COLUMNS.read_text(encoding="utf-8"))
    return tuple(key_of(word) for word in data["maybe_source"])


def header_of(line: Line, following: Sequence[Line]) -> Table | None:
    """The table that a line opens, or None."""
    if any(_names_source(item) for item in line.items):
        return None
    for delimiter in DELIMITERS:
        if delimiter in line.text:
            names = [line.text[a - line.start : b - line.start] for a, b in split_cells(line, delimiter)]
            filled = [name for name in names if name.strip()]
            known = sum(1 for name in filled if len(name) <= LONGEST_NAME and _is_header_cell(name))
            if known < 2 or known * 2 < len(filled):
                continue
            roles = _roles(names, _named_below(following, delimiter, len(names)))
            if "source" in roles and _goes_on(following, delimiter):
                return Table(delimiter, tuple(roles))
    return Table("") if _is_blank_parted(line) else _told_by_cells(line, following)


def _told_by_cells(line: Line, following: Sequence[Line]) -> Table | None:
    """A header of words of its own ("Name | Plays | Needs"), known by the even table below it."""
    delimiter = next((mark for mark in DELIMITERS[:-1] if mark in line.text), "")
    below = [other for other in following if not other.blank and not RULER.fullmatch(other.text)]
    if not delimiter or len(below) < FEWEST_ROWS or any(item.number is not None for item in line.items):
        return None
    if not any(item.hits for other in below[:FEWEST_ROWS] for item in other.items):
        return None
    names = [line.text[a - line.start : b - line.start] for a, b in split_cells(line, delimiter)]
    even = all(len(split_cells(other, delimiter)) == len(names) for other in below)
    named = _named_below(below, delimiter, len(names)) if even else [0]
    if max(named) < FEWEST_ROWS or max(named) * 3 < len(below) * 2 or not all(name.strip() for name in names):
        return None
    source = named.index(max(named))
    heard = _heard_below(below, delimiter, len(names))
    heard[source] = 0
    roles = ["note"] * len(names)
    roles[source] = "source"
    if max(heard):
        roles[heard.index(max(heard))] = "mic"
    return Table(delimiter, tuple(roles))


def _heard_below(following: Sequence[Line], delimiter: str, width: int) -> list[int]:
    """How many cells of each column say how a source is picked up."""
    found = [0] * width
    for line in following:
        for at, (start, end) in enumerate(split_cells(line, delimiter)[:width]):
            items = [item for item in line.items if start <= item.start and item.end <= end]
            found[at] += any(item.is_("mic", "di", "line") for item in items)
    return found


def _is_blank_parted(line: Line) -> bool:
    """A header such as "CH Source Mic/DI Notes", its columns parted by blanks."""
    words = [item for item in line.items if not item.symbol]
    if not 2 <= len(words) <= MOST_HEADER_WORDS or not all(item.is_("header") for item in words):
        return False
    roles = {
        _roles_by_word().get(key_of(part), "") for item in words for part in JOINTS_OF_NAMES.split(item.raw)
    }
    return "source" in roles or {"mic", "maybe_source"} <= roles or {"mic", "number", "note"} <= roles


def _goes_on(following: Sequence[Line], delimiter: str) -> bool:
    filled = [line for line in following if not line.blank]
    return not filled or any(delimiter in line.text for line in filled)


def _names_source(item: Item) -> bool:
    return any(not hit.weak for hit in item.hits) and not item.is_("header")


@lru_cache(maxsize=2048)
def _parts(name: str) -> tuple[str, ...]:
    """The key of a header cell, then those of its words."""
    return (key_of(name), *(key_of(part) for part in JOINTS_OF_NAMES.split(name) if key_of(part)))


def _is_header_cell(name: str) -> bool:
    whole, *parts = _parts(name)
    words = _roles_by_word()
    return whole in words or (bool(parts) and all(part in words for part in parts))


def _named_below(following: Sequence[Line], delimiter: str, width: int) -> list[int]:
    """How many cells of each column name a source in the lines below a header."""
    found = [0] * width
    for line in following:
        if delimiter not in line.text:
            continue
        for at, (start, end) in enumerate(split_cells(line, delimiter)[:width]):
            items = [item for item in line.items if start <= item.start and item.end <= end]
            found[at] += any(item.hits and not item.is_("mic", "di", "line") for item in items)
    return found


def _roles(names: Sequence[str], named: Sequence[int]) -> list[str]:
    """What the columns hold, by their headers and, where those don't say, by what stands below them."""
    roles = [_role(name) for name in names]
    if roles[0] == "mic" and "mic" in roles[1:]:
        roles[0] = "number"
    stated = [at for at, role in enumerate(roles) if role == "source"]
    if not stated or (max(named) and not any(named[at] for at in stated)):
        place = _likeliest_source(names, roles, named)
        if place is not None:
            roles = ["note" if role == "source" else role for role in roles]
            roles[place] = "source"
    return roles


def _role(name: str) -> str:
    found = {_roles_by_word().get(part) for part in _parts(name)}
    return next((role for role in ("source", "mic", "count", "number") if role in found), "note")


def _likeliest_source(names: Sequence[str], roles: Sequence[str], named: Sequence[int]) -> int | None:
    """For headers such as "Ch | Name | Mic": the column with sources below it, else one whose word may mean them."""
    if max(named):
        return max(range(len(names)), key=lambda at: (named[at], roles[at] != "mic", -at))
    numbers = [at for at, role in enumerate(roles) if role == "number"]
    for wanted in _maybe_sources():
        for at, name in enumerate(names):
            spare = roles[at] != "number" or at != numbers[0] or len(names) == 1
            if wanted in _parts(name) and roles[at] != "mic" and spare:
                return at
    return numbers[0] if numbers and "mic" in roles else None


def split_cells(line: Line, delimiter: str) -> list[tuple[int, int]]:
    """Where the cells of a line stand, quotes and outer pipes left out."""
    spans, quoted, begin = [], False, line.start
    for at, char in enumerate(line.text, start=line.start):
        if char == '"' and delimiter != "|":
            quoted = not quoted
        elif char == delimiter and not quoted:
            spans.append((begin, at))
            begin = at + 1
    spans.append((begin, line.end))
    if delimiter == "|" and len(spans) > 2:
        spans = spans[1:] if not line.text[: spans[0][1] - line.start].strip() else spans
        spans = spans[:-1] if not line.text[spans[-1][0] - line.start :].strip() else spans
    return [_trimmed(line, start, end) for start, end in spans]


def _trimmed(line: Line, start: int, end: int) -> tuple[int, int]:
    cell = line.text[start - line.start : end - line.start]
    core = cell.strip(" \t\r*")
    begin = start + (cell.index(core) if core else 0)
    if len(core) >= 2 and core[0] == core[-1] == '"':
        return begin + 1, begin + len(core) - 1
    return begin, begin + len(core)


def cells_of(line: Line, table: Table) -> list[Cell]:
    """The cells of a line below a header; none where the line doesn't have its delimiter."""
    if not table.delimiter or table.delimiter not in line.text:
        return []
    return [
        Cell(start, end, table.roles[at] if at < len(table.roles) else "note")
        for at, (start, end) in enumerate(split_cells(line, table.delimiter))
    ]
