"""How a clause stands to the entry before it: its parts, its choice, its player, or something of its own."""

from __future__ import annotations

from collections.abc import Sequence

from tasks.reading.anchors import VOICES, Anchor
from tasks.reading.clauses import Clause
from tasks.reading.counting import is_beside_the_point
from tasks.reading.drafts import Draft
from tasks.reading.layout import Row
from tasks.reading.pairing import COVERS, GENERIC

KEYED = frozenset({"keys", "piano", "organ"})
BEATEN = frozenset({"drum_kit", "percussion"})
SECTIONS = ("strings bowed", "brass")
FEWEST_PARTS = 3
SMALL_CHOIR = 6
ON_ONE_MICROPHONE = frozenset({"same", "shared", "share", "gleiche"})


def covers(parent: Draft, anchors: Sequence[Anchor]) -> bool:
    """Whether the sources of a clause can be parts of an entry ("Drums: kick, snare")."""
    return anchors[0].source.family in COVERS.get(parent.source.family, (parent.source.family,))


def may_head(draft: Draft, clause: Clause) -> bool:
    """Whether an entry can be a heading over the clause behind a colon or dash."""
    return draft.source.group or draft.plural or draft.source.id in GENERIC or clause.lead == ":"


def is_chair(draft: Draft) -> bool:
    """ "Reed 1", "Woodwind 3": one player, whatever is doubled."""
    return bool(draft.index) and (draft.source.group or draft.source.id == "saxophone")


def is_counted(clause: Clause, anchors: Sequence[Anchor]) -> bool:
    """Whether a number that counts stands before the first source of a clause."""
    return any(
        item.number is not None
        and item.start < anchors[0].start
        and not is_beside_the_point(clause.items, at)
        for at, item in enumerate(clause.items)
    )


def counts_for_choir(clause: Clause, anchors: Sequence[Anchor], last: Draft) -> bool:
    """ "Choir: 40 singers": singers behind a choir are its size."""
    sung = all(anchor.source.family in (*VOICES, "choir") for anchor in anchors)
    whole = last.source.group and last.source.family == "choir"
    size = max((item.number or 0 for item in clause.items), default=0)
    listed = clause.lead == "," and size > SMALL_CHOIR and last.count is None
    return whole and sung and (listed or clause.lead in (":", "-", "(", "cell"))


def plus_is_first(text: str, clause: Clause) -> bool:
    """ "(+ vocal)": the bracket itself begins with a plus."""
    before = text[max(0, clause.start - 12) : clause.start].rstrip().lower()
    return before.endswith(("+", "&", "(and", "(und", "(plus", "also", "auch"))


def is_alternative(clause: Clause, anchors: Sequence[Anchor], last: Draft, row: Row) -> bool:
    """ "piano or guitar", "flute/piccolo", "keys/synth": one player, one entry."""
    if clause.lead == "or":
        return True
    one, two = last.source, anchors[0].source
    if last.count or any(item.number is not None and item.start < anchors[0].start for item in clause.items):
        return False
    if {one.family, two.family} <= KEYED or {one.id, two.id} == BEATEN:
        return True
    if one.family == two.family == "drum kit" or {one.family, two.family} <= set(VOICES):
        return False
    if one.family == two.family and one.family in SECTIONS and _parts(row) >= FEWEST_PARTS:
        return False
    return one.family == two.family or any(item.key in ON_ONE_MICROPHONE for item in row.items)


def _parts(row: Row) -> int:
    """How many pieces the slashes of a row part: "vln/vla/vc" is a section, "trumpet/flugel" one player."""
    return 1 + sum(1 for item in row.items if item.symbol and item.raw == "/")


def touch(clause: Clause, start: int, end: int) -> bool:
    """Whether nothing but numbers stands between two places of a clause."""
    between = [item for item in clause.items if start <= item.start < end]
    return start <= end and all(item.number is not None for item in between)
