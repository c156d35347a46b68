"""Items to clauses: the pieces of a row between commas, joining words, brackets and dashes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from tasks.reading.items import Item

OPENING, CLOSING = "([{（", ")]}）"
STRONG = ",;|•·/+&→=~<>\u2022\t"
PLUS = frozenset({"+", "&", "and"})


@dataclass(slots=True)
class Clause:
    """lead: what stands before it (",", "/", "+", "and", "or", ":", "-", "(", "cell", "" at the beginning).

    depth: how many brackets are open.
    """

    items: list[Item] = field(default_factory=list)
    lead: str = ""
    depth: int = 0

    @property
    def start(self) -> int:
        return self.items[0].start

    @property
    def end(self) -> int:
        return self.items[-1].end


def clauses_of(items: Sequence[Item]) -> list[Clause]:
    """The clauses of a row in order; empty ones are left out."""
    clauses = [Clause()]
    depth = 0
    for at, item in enumerate(items):
        lead = _separates(items, at)
        if item.symbol and item.raw in OPENING:
            depth += 1
        if item.symbol and item.raw in CLOSING:
            depth = max(0, depth - 1)
        if lead is None:
            if not item.symbol:
                if item.gap >= 3 and clauses[-1].items and not _column_goes_on(clauses[-1], item):
                    clauses.append(Clause(lead="cell", depth=depth))
                clauses[-1].items.append(item)
                clauses[-1].depth = depth if len(clauses[-1].items) == 1 else clauses[-1].depth
            continue
        if clauses[-1].items:
            clauses.append(Clause(lead=lead, depth=depth))
        else:
            clauses[-1].lead = _stronger(clauses[-1].lead, lead)
            clauses[-1].depth = depth
    return [clause for clause in clauses if clause.items]


def _column_goes_on(clause: Clause, item: Item) -> bool:
    return clause.items[-1].is_("figure") and len(clause.items) == 1


def _stronger(old: str, new: str) -> str:
    """Of two separators in a row the one that says more: ", and" joins, ") -" closes."""
    if old in PLUS or old == "or":
        return old
    if old == "(" and new != ")":
        return "("
    return new


def _separates(items: Sequence[Item], at: int) -> str | None:
    """The separator that an item is, or None where it belongs to a clause (or is punctuation without weight)."""
    item = items[at]
    if not item.symbol:
        if item.hits or item.number is not None:
            return None
        if item.is_("or") and not item.is_("left", "right") and 0 < at < len(items) - 1:
            return "or"
        if item.is_("and") and not item.is_("both_sides") and at < len(items) - 1:
            return "and"
        return None
    raw = item.raw
    if raw in OPENING:
        return "("
    if raw in CLOSING:
        return ")"
    if raw in "/+&":
        return raw
    if raw in STRONG:
        return "cell" if raw in "|\t" else ","
    if raw in ":：":
        return ":"
    if raw in ".!?…":
        follows = items[at + 1] if at + 1 < len(items) else None
        return "." if follows is None or follows.gap else None
    if raw in "-–—‑":
        return _dash(items, at)
    return None


def _dash(items: Sequence[Item], at: int) -> str | None:
    before = items[at - 1] if at else None
    after = items[at + 1] if at + 1 < len(items) else None
    if before is None or after is None:
        return "-"
    if before.number is not None and after.number is not None:
        return None
    tight = not items[at].gap and not after.gap
    if tight and items[at].raw in "-‑":
        return None
    return "-" if items[at].gap or items[at].raw in "–—" else None
