"""Names in front of what somebody plays: "Player B - bass", "Anna: violin", "Quintet (…)"."""

from __future__ import annotations

from collections.abc import Sequence

from tasks.reading.clauses import Clause
from tasks.reading.context import Context
from tasks.reading.items import Item

LABEL_WORDS = 5


def mark_people(items: Sequence[Item]) -> tuple[list[Item], list[tuple[int, int]]]:
    """Takes "Singer A", "Musicienne B" out of a row; gives the rest and where the names stand."""
    kept: list[Item] = []
    names: list[tuple[int, int]] = []
    at = 0
    while at < len(items):
        item = items[at]
        after = items[at + 1] if at + 1 < len(items) else None
        if item.is_("name_label") and after is not None and _is_letter(after) and _goes_on(items, at + 2):
            names.append((item.start, after.end))
            at += 2
            while at < len(items) and (
                items[at].raw in "'’`" or (items[at].key == "s" and items[at - 1].raw in "'’`")
            ):
                at += 1
            if at < len(items) and items[at].symbol and items[at].raw in "-–—:(,":
                if items[at].raw != "(":
                    at += 1
                else:
                    at += 1
            continue
        kept.append(item)
        at += 1
    return kept, names


def _is_letter(item: Item) -> bool:
    return len(item.raw) == 1 and item.raw.isalpha() and item.raw.isupper()


def _goes_on(items: Sequence[Item], at: int) -> bool:
    return any(item.hits or item.register or item.is_("mic", "di") for item in items[at:])


def label_length(clauses: Sequence[Clause], context: Context) -> int:
    """How many clauses at the beginning are a label (0 for none)."""
    if len(clauses) < 2:
        return 0
    first, second = clauses[0], clauses[1]
    if second.lead not in (":", "-", "("):
        return 0
    if any(context.believes(item) for item in first.items):
        return 0
    if not any(context.believes(item) for clause in clauses[1:] for item in clause.items):
        return 0
    if len(first.items) > LABEL_WORDS + 2 or any(item.is_("no", "mic", "di", "amp") for item in first.items):
        return 0
    return 1
