"""Orchestral shorthand: "2232/4331/str", "2.2.2.2 - 4.2.3.1 - timp - perc - strings"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from tasks.catalogue import Catalogue
from tasks.reading.items import Item
from tasks.reading.records import ReadSource

ONE = r"\d{1,2}(?:\s?[\[(][^\])\n]{1,40}[\])])?"
GROUP = rf"(?:\d{{4}}|{ONE}(?:\s?[.,]\s?{ONE}){{3}})"
FEWEST_FIRSTS = 2
MOST_BETWEEN = 16
SHORTHAND = re.compile(rf"(?<![\d.])({GROUP})\s*[/\-–—|;,:]+\s*({GROUP})(?![\d.]*\d)")


DESKS = re.compile(
    r"(?<![\d./-])(\d{1,2}(?:\s?([-.,/])\s?\d{1,2})(?:\s?\2\s?\d{1,2}){2,3})(?![\d]|\s?[-./]\s?\d)"
)


def desks(text: str, items: Sequence[Item], after: int, catalogue: Catalogue) -> ReadSource | None:
    """The strings of a row that gives the players of each part, "Strings: 8-6-4-4-2" or "6/4/2/2".

    Four or five numbers, none larger than the one before; a word for strings beside them belongs to the entry.
    """
    match = DESKS.search(text, items[0].start, items[-1].end) if items else None
    if match is None or match.start() < after:
        return None
    players = [int(number) for number in re.findall(r"\d+", match[1])]
    falling = all(low <= high for high, low in pairwise(players))
    if not falling or players[0] < FEWEST_FIRSTS or players[0] == players[-1] or 0 in players:
        return None
    named = [item for item in items if item.means("string_section") and _beside(item, match, text)]
    if not named and match.span() != (items[0].start, items[-1].end):
        return None
    start = min([match.start(), *(item.start for item in named)])
    end = max([match.end(), *(item.end for item in named)])
    source = catalogue["string_section"]
    return ReadSource(
        start, text[start:end], source.id, source.name, source.family, sum(players), None, source.pickup
    )


def _beside(item: Item, match: re.Match[str], text: str) -> bool:
    between = text[item.end : match.start()] if item.end <= match.start() else text[match.end() : item.start]
    return len(between) <= MOST_BETWEEN


def shorthand(text: str, start: int, end: int, catalogue: Catalogue) -> tuple[list[ReadSource], int]:
    """The winds and brass of a shorthand in text[start:end], and where it ends (start if there is none)."""
    match = SHORTHAND.search(text, start, end)
    if match is None:
        return [], start
    entries = []
    for group, source_id in ((1, "woodwind_section"), (2, "brass_section")):
        source = catalogue[source_id]
        players = _players(match[group])
        entries.append(
            ReadSource(
                match.start(group),
                match[group],
                source.id,
                source.name,
                source.family,
                players,
                None,
                source.pickup,
            )
        )
    return entries, match.end()


def _players(group: str) -> int:
    plain = re.sub(r"[\[(][^\])]*[\])]", "", group)
    if re.fullmatch(r"\d{4}", plain):
        return sum(map(int, plain))
    return sum(map(int, re.findall(r"\d+", plain)))
