"""Rows and clauses that name no source but say how one is picked up."""

from __future__ import annotations

from collections.abc import Sequence

from tasks.catalogue import Source
from tasks.reading.anchors import VOICES, Anchor
from tasks.reading.clauses import Clause
from tasks.reading.context import Context
from tasks.reading.items import Item
from tasks.reading.text import key_of

FEWEST_OF_ALL = 2
MOST_OF_ABOVE = 2
EACH = frozenset(
    {"each", "all", "everyone", "everybody", "everything", "alle", "alles", "jeder", "jede", "jeweils"}
    | {"tous", "chacun", "todos", "todo", "cada", "tutti", "tutto", "ognuno", "ciascuno", "allemaal", "elk"}
)
SUNG = frozenset({"lead", "main", "double", "doubles", "harmony", "guide", "scratch"})
PAIRS = frozenset({"pair", "paar", "paire", "couple", "coppia", "par"})
IN_FRONT = frozenset(
    {
        "above",
        "outfront",
        "infrontof",
        "infront",
        "vor",
        "vorm",
        "uber",
        "devant",
        "davanti",
        "delante",
        "boven",
        "over",
    }
)
PAIRS_ALONE = frozenset(
    {"stereopair", "stereopaar", "coppiastereo", "parestereo", "pardemicros"}
    | {"abpair", "spacedpair", "xypair", "ortfpair"}
)


def speaks_of_all(items: Sequence[Item]) -> bool:
    """ "each on a handheld", "all wireless": how the entries above are picked up, no entry."""
    words = [item for item in items if not item.symbol]
    if len(words) < FEWEST_OF_ALL or key_of(words[0].raw) not in EACH:
        return False
    named = [item for item in words if item.hits or item.number is not None]
    return all(item.is_("mic", "di", "line") for item in named)


def is_way_of_above(clauses: Sequence[Clause], above: Source, prose: bool, context: Context) -> bool:
    """ "DI" or "Cab" under the heading "Bass:": one way of picking up what the heading names."""
    if prose or not clauses or len(clauses[0].items) > MOST_OF_ABOVE:
        return False
    first = clauses[0].items[0]
    others = [item for clause in clauses for item in clause.items if item is not first]
    named = any(item.unknown or context.believes(item) for item in others)
    if named or (first.hits and not all(hit.weak for hit in first.hits)):
        return False
    voice = above.family in VOICES and first.key in SUNG
    return voice or first.is_("mic", "di", "amp", "line", "left", "right")


def pair_alone(clause: Clause, context: Context) -> Anchor | None:
    """ "A stereo pair in front of the group": a pair of microphones for nothing that is named is the main array."""
    in_front = any(item.is_("front") or key_of(item.raw) in IN_FRONT for item in clause.items)
    names = PAIRS_ALONE | PAIRS if in_front else PAIRS_ALONE
    pair = next((item for item in clause.items if key_of(item.raw) in names), None)
    if pair is None or any(item.number is not None for item in clause.items):
        return None
    return Anchor(pair, context.catalogue["main_pair"])
