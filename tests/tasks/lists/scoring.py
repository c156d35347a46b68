"""Scores readings of labelled lists.

A labelled entry is right where a source begins inside it (or else on its line) with its family, its channels times
count, and no contradicting pickup; asked where only a question stands there; wrong where another source does; lost
where nothing does. A source on a line without labelled entries is false. Optional entries don't count.
"""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tasks.catalogue import load_catalogue
from tasks.reading import Question, Reading, ReadSource, read

FOLDER = Path(__file__).parent
Gold = dict[str, Any]


@dataclass
class Score:
    """counts of right, asked, wrong, lost and false; misses in words for a failing test."""

    counts: Counter[str] = field(default_factory=Counter)
    misses: list[str] = field(default_factory=list)

    @property
    def entries(self) -> int:
        return sum(self.counts[verdict] for verdict in ("right", "asked", "wrong", "lost"))

    def share(self, *verdicts: str) -> float:
        return sum(self.counts[verdict] for verdict in verdicts) / max(1, self.entries)


def score_file(path: Path) -> Score:
    """The score of every list of a file of {"id", "text", "gold"} lines."""
    score = Score()
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.strip():
            case = json.loads(line)
            _score_case(case, read(case["text"], load_catalogue()), score)
    return score


def _line(text: str, start: int) -> int:
    return text.count("\n", 0, start) + 1


def _score_case(case: Gold, reading: Reading, score: Score) -> None:
    text, free = case["text"], list(reading.sources)
    wanted = sorted(
        (gold for gold in case["gold"] if gold["family"] != "not an input"), key=lambda gold: gold["start"]
    )
    for gold in wanted:
        verdict, taken = _verdict(gold, free, reading.questions, text)
        for source in taken:
            free.remove(source)
        if gold.get("optional"):
            continue
        score.counts[verdict] += 1
        if verdict != "right":
            score.misses.append(
                f"{case['id']} {verdict}: {gold['as_written']!r}, read {[s.as_written for s in taken]}"
            )
    lines = {gold["line"] for gold in wanted}
    for source in free:
        if _line(text, source.start) not in lines:
            score.counts["false"] += 1
            score.misses.append(f"{case['id']} false: {source.as_written!r}")


def _verdict(
    gold: Gold, free: list[ReadSource], questions: tuple[Question, ...], text: str
) -> tuple[str, list[ReadSource]]:
    span = range(gold["start"], gold["start"] + len(gold["as_written"]))
    inside = [source for source in free if source.start in span]
    here = inside or [source for source in free if _line(text, source.start) == gold["line"]]
    match = next((source for source in here if _fits(source.family, source.total, source.pickup, gold)), None)
    if match is not None:
        return "right", [match]
    same = [source for source in inside if source.family in _allowed(gold, "family")]
    totals = [source.total for source in same]
    if (
        len(same) > 1
        and None not in totals
        and _fits(same[0].family, sum(map(int, totals)), same[0].pickup, gold)
    ):
        return "right", same
    if any(question.start in span or _line(text, question.start) == gold["line"] for question in questions):
        return "asked", []
    return ("wrong", here[:1]) if here else ("lost", [])


def _allowed(gold: Gold, name: str) -> list[Any]:
    return [gold[name], *gold.get("also_ok", {}).get(name, [])]


def _fits(family: str, total: int | None, pickup: str, gold: Gold) -> bool:
    totals = {
        None if channels is None or count is None else channels * count
        for channels in _allowed(gold, "channels")
        for count in _allowed(gold, "count")
    }
    stated = _allowed(gold, "pickup")
    agrees = pickup in stated or "unknown" in (pickup, *stated) or {pickup, stated[0]} != {"mic", "di"}
    return family in _allowed(gold, "family") and total in totals and agrees
