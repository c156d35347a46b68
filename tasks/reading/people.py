"""Names in front of what somebody plays: "Player B - bass", "Anna: violin", "Quintet (…)"."""

from __future__ import annotations

from collections.abc import Sequence

from tasks.reading.clauses import Clause
from tasks.reading.context import Context
from tasks.reading.items import Item

MOST_LABEL_WORDS = 7
ME = frozenset({"me", "myself", "moi", "ich", "mich", "yo", "mi", "io", "ik", "mezelf"})
ENSEMBLE = ("topic_input", "people", "total", "channels", "greeting", "parts", "remark")


def mark_people(items: Sequence[Item]) -> tuple[list[Item], list[tuple[int, int]]]:
    """Takes "Singer A", "Musicienne B" out of a row; gives the rest and where the names stand."""
    kept: list[Item] = []
    names: list[tuple[int, int]] = []
    at = 0
    while at < len(items):
        if _is_name(items, at) and not _is_in_brackets(kept) and _goes_on(items, at + 2):
            names.append((items[at].start, items[at + 1].end))
            at = _after_name(items, at + 2)
            continue
        kept.append(items[at])
        at += 1
    return kept, names


def _is_name(items: Sequence[Item], at: int) -> bool:
    after = items[at + 1] if at + 1 < len(items) else None
    letter = after is not None and len(after.raw) == 1 and after.raw.isalpha() and after.raw.isupper()
    return items[at].is_("name_label") and letter


def _is_in_brackets(kept: Sequence[Item]) -> bool:
    marks = [item.raw for item in kept if item.symbol and item.raw in "()"]
    return bool(marks) and marks[-1] == "("


def _after_name(items: Sequence[Item], at: int) -> int:
    """Behind a possessive and the one mark that parts a name from what follows."""
    while at < len(items) and (
        items[at].raw in "'’`" or (items[at].key == "s" and items[at - 1].raw in "'’`")
    ):
        at += 1
    if at < len(items) and items[at].symbol and items[at].raw in "-–—:(,":
        at += 1
    return at


def _goes_on(items: Sequence[Item], at: int) -> bool:
    return any(item.hits or item.register or item.is_("mic", "di") for item in items[at:])


def is_ensemble(clause: Clause) -> bool:
    """Whether a label speaks of a group or a count, not of one player."""
    return any(item.is_(*ENSEMBLE) for item in clause.items) and not any(
        item.key in ME for item in clause.items
    )


def label_length(clauses: Sequence[Clause], context: Context) -> int:
    """How many clauses at the beginning are a label: 1 or 0."""
    if len(clauses) < 2 or clauses[1].lead not in (":", "-", "("):
        return 0
    first = clauses[0]
    if any(context.believes(item) and not _is_unit(clauses, item) for item in first.items):
        return 0
    if not any(context.believes(item) for clause in clauses[1:] for item in clause.items):
        return 0
    if len(first.items) > MOST_LABEL_WORDS or any(item.is_("no", "mic", "di", "amp") for item in first.items):
        return 0
    return 1


def _is_unit(clauses: Sequence[Clause], item: Item) -> bool:
    """The tracks of "3 scratch tracks:" are a count of channels."""
    counted = any(other.number is not None for other in clauses[0].items)
    return counted and item.means("playback") and item is clauses[0].items[-1]
