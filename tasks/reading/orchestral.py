"""Orchestral shorthand: "2232/4331/str", "2.2.2.2 - 4.2.3.1 - timp - perc - strings"."""

from __future__ import annotations

import re

from tasks.catalogue import Catalogue
from tasks.reading.records import ReadSource

ONE = r"\d{1,2}(?:\s?[\[(][^\])\n]{1,40}[\])])?"
GROUP = rf"(?:\d{{4}}|{ONE}(?:\s?[.,]\s?{ONE}){{3}})"
SHORTHAND = re.compile(rf"(?<![\d.])({GROUP})\s*[/\-–—|;,:]+\s*({GROUP})(?![\d.]*\d)")


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
