"""Sources inside one clause: which words are sources, and which two together are one."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from tasks.catalogue import Source
from tasks.reading.anchors import VOICES, Anchor
from tasks.reading.clauses import Clause
from tasks.reading.context import Context
from tasks.reading.drafts import LEADS, Draft
from tasks.reading.hints import apply_hints
from tasks.reading.text import key_of

if TYPE_CHECKING:
    from tasks.reading.rowreading import RowReader

COVERS: dict[str, tuple[str, ...]] = {
    "drum kit": ("drum kit",),
    "percussion": ("percussion",),
    "strings bowed": ("strings bowed", "double bass"),
    "brass": ("brass", "woodwind"),
    "woodwind": ("woodwind",),
    "vocal lead": VOICES,
    "vocal backing": VOICES,
    "choir": ("choir",),
    "electric guitar": ("electric guitar", "acoustic guitar"),
    "acoustic guitar": ("acoustic guitar", "electric guitar"),
    "keys": ("keys", "piano", "organ"),
    "bass guitar": ("bass guitar", "double bass"),
    "electronics/playback": ("electronics/playback",),
    "speech": ("speech",),
    "ambience/room": ("ambience/room",),
}
GENERIC = frozenset(
    {"drum_kit", "percussion", "string_section", "brass_section", "woodwind_section", "vocal", "electric_guitar",
     "bass_guitar", "keys", "saxophone", "choir", "speech", "lead_vocal", "tom", "playback", "sax_section", "piano"}
)  # fmt: skip
UTILITY_IDS = frozenset({"talkback", "click", "effects_return", "timecode", "measurement_mic"})
OWN_MIC_IS_BACKING = ("drum kit", "bass guitar", "double bass", "keys", "piano", "organ", "percussion")
PLURAL_REGISTERS = frozenset(
    {
        "soprane",
        "soprani",
        "sopranen",
        "alti",
        "alten",
        "alte",
        "contralti",
        "tenöre",
        "tenori",
        "tenoren",
        "baritoni",
    }
)
FEWEST_PIECES = 4


def merge(clause: Clause, anchors: Sequence[Anchor], reader: RowReader) -> list[Draft]:
    """The entries of a clause, with the words around each applied to it."""
    groups = _groups(clause, anchors, reader.row.numbered)
    begins = [
        clause.start,
        *(_boundary(clause, one, two) for one, two in pairwise(groups)),
    ]
    ends = [*begins[1:], clause.end + 1]
    return [
        _draft(clause, group, begin, end, reader)
        for group, begin, end in zip(groups, begins, ends, strict=True)
    ]


def _boundary(clause: Clause, one: Sequence[Anchor], two: Sequence[Anchor]) -> int:
    """Where, between two sources, the words about the second begin: a count right before it is its own."""
    between = [item for item in clause.items if one[-1].end <= item.start < two[0].start]
    place = two[0].start
    for item in reversed(between):
        before_second = item.number is not None and (two[0].item.plural or item is not between[0])
        if not (before_second or item.is_("times", "filler", "manner", "and", "with")):
            break
        place = item.start
    return place


def _groups(clause: Clause, anchors: Sequence[Anchor], numbered: bool) -> list[list[Anchor]]:
    if len(anchors) >= FEWEST_PIECES and all(anchor.source.family == "drum kit" for anchor in anchors):
        return [[anchor] for anchor in anchors]
    groups: list[list[Anchor]] = [[anchors[0]]]
    pair = len(anchors) == 2
    for anchor in anchors[1:]:
        before = groups[-1][-1]
        between = [item for item in clause.items if before.end <= item.start < anchor.start]
        counted = any(item.number is not None for item in between)
        if before.source.id == "choir" and anchor.source.family in VOICES and not anchor.item.is_("person"):
            groups[-1].append(anchor)
            continue
        told = any(item.is_("via") for item in between) and not counted
        alone = numbered and not counted and not any(item.is_("with") for item in between)
        apart = any(not item.is_("filler") for item in between)
        if told or alone or (not counted and _belongs(before, anchor, pair, apart)):
            groups[-1].append(anchor)
        else:
            groups.append([anchor])
    return groups


def _belongs(one: Anchor, two: Anchor, pair: bool, apart: bool) -> bool:
    families = {one.source.family, two.source.family}
    if "tom" in (one.source.id, two.source.id):
        return one.source.id.startswith("tom") and two.source.id.startswith("tom") and not apart
    if one.source.family in COVERS.get(two.source.family, ()) and (
        one.source.id in GENERIC or two.source.id in GENERIC
    ):
        return not apart or one.source.id == two.source.id
    if one.source.id in UTILITY_IDS or two.source.id in UTILITY_IDS:
        return pair and not apart
    if two.source.id == "overheads" and one.source.family in ("percussion", "choir", "strings bowed"):
        return True
    if two.source.family == "ambience/room" and one.source.family != "ambience/room":
        return not apart
    if two.source.id == "choir" or one.source.id == "choir":
        return pair and any(anchor.item.is_("person") for anchor in (one, two))
    return pair and not apart and len(families & set(VOICES)) == 1 and len(families) == 2


def _draft(clause: Clause, group: Sequence[Anchor], begin: int, end: int, reader: RowReader) -> Draft:
    anchor, source = _head(group, reader)
    draft = Draft(
        start=group[0].start,
        end=group[-1].end if _adjacent(group) else anchor.end,
        source=source,
        anchor=anchor.item,
        line=reader.row.line,
        plural=_is_plural(anchor, source, reader.context),
        numbered=reader.row.numbered and (reader.row.width == 1 or not reader.drafts),
        headed=reader.row.headed,
        bullet=reader.row.bullet,
        width=reader.row.width if not reader.drafts else 1,
    )
    draft.start = min(draft.start, anchor.start)
    around = [
        item for item in clause.items if begin <= item.start < end and all(item is not m.item for m in group)
    ]
    draft.lead = any(
        item.key in LEADS and item.is_("manner") and abs(item.end - draft.start) <= 2 for item in around
    )
    draft.both = anchor.item.raw.lower().endswith(("l/r", "lr")) and len(anchor.item.raw) > 2
    reader.use_ahead(draft, clause)
    apply_hints(draft, Clause(around, clause.lead, clause.depth), reader.context, own=False)
    return draft


def _is_plural(anchor: Anchor, source: Source, context: Context) -> bool:
    hits = [hit for hit in anchor.item.hits if hit.source is source] or list(anchor.item.hits)
    if anchor.item.register:
        return anchor.item.key.endswith("s") or anchor.item.raw.lower() in PLURAL_REGISTERS
    if len({hit.plural for hit in hits}) <= 1:
        return bool(hits) and hits[0].plural
    if anchor.item.key == key_of(source.name):
        return False
    english = all(hit.language == "en" for hit in hits if not hit.plural)
    if english and anchor.item.key.endswith("s"):
        return True
    return max(hits, key=lambda hit: (context.languages[hit.language], not hit.plural)).plural


def _adjacent(group: Sequence[Anchor]) -> bool:
    return all(right.start - left.end <= 4 for left, right in pairwise(group))


def _head(group: Sequence[Anchor], reader: RowReader) -> tuple[Anchor, Source]:
    """Which of the words read together is the source."""
    if len(group) == 1:
        return group[0], group[0].source
    for anchor in group:
        if anchor.source.id in UTILITY_IDS:
            return anchor, anchor.source
    choir = next((anchor for anchor in group if anchor.source.id == "choir"), None)
    if choir is not None and any(anchor.item.is_("person") for anchor in group):
        return choir, reader.context.catalogue["backing_vocal"]
    if choir is not None and choir is group[0]:
        return choir, choir.source
    voices = [anchor for anchor in group if anchor.source.family in VOICES]
    others = [anchor for anchor in group if anchor.source.family not in VOICES]
    if voices and others and _one_voice(group, reader):
        return voices[0], _own_mic(voices[0].source, others[0].source, reader.context)
    first = group[0]
    if first.source.id in GENERIC:
        covered = COVERS.get(first.source.family, ())
        for anchor in group[1:]:
            if anchor.source.family in covered and anchor.source.id not in GENERIC:
                return anchor, anchor.source
    return first, first.source


def _one_voice(group: Sequence[Anchor], reader: RowReader) -> bool:
    return (len(group) == 2 and group[1].start - group[0].end <= 3) or (
        reader.row.numbered and group[0].source.family in VOICES
    )


def _own_mic(voice: Source, instrument: Source, context: Context) -> Source:
    if voice.id == "vocal" and instrument.family in OWN_MIC_IS_BACKING:
        return context.catalogue["backing_vocal"]
    return voice
