"""Monitor mixes that a list names itself (“Mix 2: drummer”), and whom they mean. Pure."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence

from tasks.floor.stations import Kind, Station
from tasks.reading.records import NotInput, ReadSource

A_MIX = re.compile(
    r"^\W*(?:(?P<word>[^\W\d][\w .-]*?)\s*)?(?P<number>\d{1,2})\s*[:.)=–-]*\s*(?P<who>\S.*)$", re.UNICODE
)
OF_MIXES = ("monitor mix", "monitor mixes")


def said_mixes(not_inputs: Iterable[NotInput]) -> tuple[str, ...]:
    """What the list says of monitor mixes, as it is written."""
    return tuple(each.as_written.strip() for each in not_inputs if each.why in OF_MIXES)


def asked_mixes(
    said: Sequence[str], stations: Sequence[Station], read: Callable[[str], Sequence[ReadSource]]
) -> dict[str, str]:
    """The mix of each player that a row of the list names. read: the reader of lists, for the words of the row."""
    found: dict[str, str] = {}
    for text in said:
        for line in text.splitlines():
            row = A_MIX.match(line)
            if row is None:
                continue
            mix = f"Mix {int(row['number'])}"
            for source in read(row["who"]):
                for station in _meant(source, stations):
                    found.setdefault(station.key, mix)
    return found


def _meant(source: ReadSource, stations: Sequence[Station]) -> list[Station]:
    """By the source itself; else, where only one of its family plays, by the family."""
    same = [each for each in stations if each.source_id == source.source_id]
    if source.family == "drum kit":
        return [each for each in stations if each.kind is Kind.KIT]
    if same:
        return same
    family = [each for each in stations if each.family == source.family and each.kind is not Kind.ARRAY]
    return family if len(family) == 1 else []
