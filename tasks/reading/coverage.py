"""Nothing is dropped: whatever no entry, aside or question covers becomes a stated non-input."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence

from tasks.reading.items import Line
from tasks.reading.records import NotInput

JOINING = re.compile(
    r"[\W_]*(and|und|et|y|e|en|plus|with|mit|avec|con|met|via|or|oder|ou|o|of|the|a|an|w|on|for|from|to|by|x|ein|eine|le|la|l|un|une|der|die"
    r"|das|de|il|el|los|las|les|het|een|in|à|d|du|des|di|del|della|al|et|à la|et à la|für|pour|per|para|voor)?[\W_]*",
    re.IGNORECASE,
)
LONGEST_SCRAP = 40
PARTING = frozenset("|+=<>~^`")
ROW_NUMBER = re.compile(
    r"\W*(ch|chan|channel|kanal|input|canal|canale|voie|no|nr)?\W*\d{1,3}(\W{1,3}\d{1,3})?\W*", re.IGNORECASE
)


def matters(char: str) -> bool:
    """Whether a character must lie in something: letters, digits, marks and symbols.

    Blanks, punctuation, control characters and the marks that part entries need not, unless a line has nothing else.
    """
    return not char.isspace() and char not in PARTING and unicodedata.category(char)[0] in "LNSM"


def gaps(lines: Sequence[Line], taken: Iterable[tuple[int, int]]) -> list[NotInput]:
    """Non-inputs for every piece of a line that isn't taken; a line of punctuation alone is one piece."""
    spans = sorted(taken)
    found: list[NotInput] = []
    at = 0
    for line in lines:
        while at < len(spans) and spans[at][1] <= line.start:
            at += 1
        found += _line_gaps(line, spans, at)
    return found


def _line_gaps(line: Line, spans: Sequence[tuple[int, int]], at: int) -> Iterable[NotInput]:
    place, touched = line.start, False
    while at < len(spans) and spans[at][0] < line.end:
        touched = True
        yield from _gap(line, place, spans[at][0], first=place == line.start, whole=False)
        place = max(place, spans[at][1])
        at += 1
    yield from _gap(line, place, line.end, first=place == line.start, whole=not touched)


def _gap(line: Line, start: int, end: int, first: bool, whole: bool) -> Iterable[NotInput]:
    if end <= start:
        return
    piece = line.text[start - line.start : end - line.start]
    core = piece.strip()
    if not core or not (whole or any(matters(char) for char in core)):
        return
    begin = start + piece.index(core)
    if not whole:
        stripped = core.strip("()[]{},;.:|\"'-–—/ \t")
        if stripped:
            begin, core = begin + core.index(stripped), stripped
    yield NotInput(begin, core, _why(core, first, whole))


def _why(piece: str, first: bool, whole: bool) -> str:
    if len(piece) > LONGEST_SCRAP:
        return "remark" if whole else "note"
    if first and not whole and ROW_NUMBER.fullmatch(piece):
        return "row number"
    if not whole and JOINING.fullmatch(piece):
        return "joining word"
    if ROW_NUMBER.fullmatch(piece):
        return "number alone"
    return "remark" if whole else "note"
