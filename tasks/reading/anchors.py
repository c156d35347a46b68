"""Which words of a clause are sources."""

from __future__ import annotations

from dataclasses import dataclass

from tasks.catalogue import Source
from tasks.reading.clauses import Clause
from tasks.reading.context import Context
from tasks.reading.drafts import LEADS, Draft
from tasks.reading.items import Item

VOICES = ("vocal lead", "vocal backing")
KIT_LETTERS = {"k": "kick", "s": "snare", "h": "hihat", "t": "tom", "f": "tom_floor"}
SIZED = ("woodwind", "brass", "accordion/free reed", "plucked other", "strings bowed")
FEWEST_NAMED = 3


@dataclass(slots=True)
class Anchor:
    """A phrase of a clause that names a source."""

    item: Item
    source: Source

    @property
    def start(self) -> int:
        return self.item.start

    @property
    def end(self) -> int:
        return self.item.end


def anchors_of(clause: Clause, context: Context, near: Draft | None) -> list[Anchor]:
    """The sources named in a clause. near: the entry before, which tells an alto from an alto."""
    anchors = [
        Anchor(item, source)
        for at, item in enumerate(clause.items)
        if (source := _source_of(clause, at, item, context, near)) is not None
    ]
    if not anchors and near is not None:
        anchors = _implied(clause, context, near)
    if sum(anchor.source.family == "drum kit" for anchor in anchors) >= FEWEST_NAMED:
        anchors = sorted([*anchors, *_kit_letters(clause, context)], key=lambda anchor: anchor.start)
    named = [anchor for anchor in anchors if not anchor.item.is_("mic", "di", "amp", "line", "manner")]
    return _without_effects(clause, named or anchors)


def _without_effects(clause: Clause, anchors: list[Anchor]) -> list[Anchor]:
    """ "vocal w/ fx pedal": what comes with a source is no source where it is an effect."""
    with_at = next((item.start for item in clause.items if item.is_("with")), None)
    if with_at is None or not anchors or anchors[0].start > with_at:
        return anchors
    return [anchor for anchor in anchors if anchor.start < with_at or anchor.source.id != "effects_return"]


def _source_of(clause: Clause, at: int, item: Item, context: Context, near: Draft | None) -> Source | None:
    alone = len(clause.items) == 1 and bool(item.hits) and _may_stand_alone(clause, item)
    if not context.believes(item) and not (item.register and near is not None) and not alone:
        return None
    after = clause.items[at + 1] if at + 1 < len(clause.items) else None
    if item.is_("piece") and item.raw.islower() and at and clause.items[at - 1].number is not None:
        return None
    if after is not None and _is_size_of(item, after, context):
        return None
    if item.number is not None and after is not None and (after.hits or after.is_("manner", "people")):
        return None
    counted = any(other.number is not None for other in clause.items[:at])
    if (
        item.is_("header", "channels")
        and item.means("playback")
        and counted
        and after is not None
        and after.is_("filler")
    ):
        return None
    return context.source(item) if item.hits else context.register(item, near.source if near else None)


def _is_size_of(item: Item, after: Item, context: Context) -> bool:
    """ "bass harmonica", "alto recorder", "tenor banjo": the first word only says which size."""
    sizes = item.register or item.is_("plain_bass")
    if (
        not sizes
        or item.plural
        or item.end + 1 < after.start
        or not after.hits
        or not context.believes(after)
    ):
        return False
    return after.hits[0].source.family in SIZED and not after.plural


def _kit_letters(clause: Clause, context: Context) -> list[Anchor]:
    """ "K S HH T1 FT OHL OHR": single letters among the pieces of a kit are pieces too."""
    return [
        Anchor(item, context.catalogue[KIT_LETTERS[item.key]])
        for item in clause.items
        if item.raw.isupper() and item.key in KIT_LETTERS and not item.hits
    ]


def _may_stand_alone(clause: Clause, item: Item) -> bool:
    """A doubtful word that is a whole piece of a row: "upright, kit", "keys, lead, 3 bvs"."""
    if item.number is not None:
        return clause.lead in ("", ",")
    return (
        clause.lead == "," and clause.depth == 0 and not item.adjective and not item.is_("mic", "di", "amp")
    )


def _implied(clause: Clause, context: Context, near: Draft) -> list[Anchor]:
    """ "Guitars: 2 electric, 1 acoustic", "Vocals: 1 lead", "Drums: K, S": words that need the entry before."""
    for item in clause.items:
        name = ""
        if near.source.family in ("electric guitar", "acoustic guitar") and item.adjective in (
            "electric",
            "acoustic",
        ):
            name = f"{item.adjective}_guitar"
        elif near.source.family in VOICES and item.key in LEADS and item.is_("manner"):
            name = "lead_vocal"
        elif near.source.family == "drum kit" and item.raw.isupper() and item.key in KIT_LETTERS:
            name = KIT_LETTERS[item.key]
        if name and (clause.lead != "(" or item.number is not None or name != f"{item.adjective}_guitar"):
            return [Anchor(item, context.catalogue[name])]
    return []
