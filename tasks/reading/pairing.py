"""Sources inside one clause: which words are sources, and which two together are one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tasks.catalogue import Source
from tasks.reading.clauses import Clause
from tasks.reading.context import Context
from tasks.reading.drafts import Draft
from tasks.reading.hints import apply_hints
from tasks.reading.items import Item

if TYPE_CHECKING:
    from tasks.reading.rowreading import RowReader

VOICES = ("vocal lead", "vocal backing")
COVERS: dict[str, tuple[str, ...]] = {
    "drum kit": ("drum kit",),
    "percussion": ("percussion",),
    "strings bowed": ("strings bowed", "double bass"),
    "brass": ("brass", "woodwind"),
    "woodwind": ("woodwind",),
    "vocal lead": ("vocal lead", "vocal backing"),
    "vocal backing": ("vocal backing", "vocal lead"),
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
     "bass_guitar", "keys", "saxophone", "choir", "speech", "lead_vocal", "tom", "playback", "sax_section"}
)  # fmt: skip
UTILITY_IDS = frozenset({"talkback", "click", "effects_return", "timecode", "measurement_mic"})
OWN_MIC_IS_BACKING = ("drum kit", "bass guitar", "double bass", "keys", "piano", "organ", "percussion")


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
    anchors = []
    for at, item in enumerate(clause.items):
        if not context.believes(item) and not (item.register and near is not None):
            continue
        if item.number is not None and at + 1 < len(clause.items) and clause.items[at + 1].hits:
            continue
        if _is_unit(clause, at):
            continue
        source = context.source(item) if item.hits else context.register(item, near.source if near else None)
        if source is not None:
            anchors.append(Anchor(item, source))
    named = [anchor for anchor in anchors if not anchor.item.is_("mic", "di", "amp", "line", "manner")]
    return named or anchors


def _is_unit(clause: Clause, at: int) -> bool:
    """ "5 tracks of drums", "3 scratch tracks:": a count of channels, not a playback."""
    item = clause.items[at]
    if not item.is_("channels", "header") or item.source_id("playback") is None:
        return False
    counted = any(other.number is not None for other in clause.items[:at])
    return counted and (at + 1 < len(clause.items) or (at == len(clause.items) - 1 and at >= 1))


def merge(clause: Clause, anchors: Sequence[Anchor], reader: RowReader) -> list[Draft]:
    """The entries of a clause, with the words around each applied to it."""
    groups = _groups(clause, anchors, reader.row.numbered)
    drafts = []
    begin = clause.start
    for at, group in enumerate(groups):
        last = groups[at + 1][0].start if at + 1 < len(groups) else clause.end + 1
        drafts.append(_draft(clause, group, begin, last, reader, alone=len(groups) == 1))
        begin = group[-1].end
    return [draft for draft in drafts if draft is not None]


def _groups(clause: Clause, anchors: Sequence[Anchor], numbered: bool) -> list[list[Anchor]]:
    groups: list[list[Anchor]] = [[anchors[0]]]
    pair = len(anchors) == 2
    for anchor in anchors[1:]:
        before = groups[-1][-1]
        between = [item for item in clause.items if before.end <= item.start < anchor.start]
        counted = any(item.number is not None for item in between)
        if any(item.is_("via") for item in between) or (
            not counted and _belongs(before, anchor, pair, numbered)
        ) or (numbered and not counted and not any(item.is_("with") for item in between)):
            groups[-1].append(anchor)
        else:
            groups.append([anchor])
    return groups


def _belongs(one: Anchor, two: Anchor, pair: bool, numbered: bool) -> bool:
    families = {one.source.family, two.source.family}
    if one.source.family in COVERS.get(two.source.family, ()) and (
        one.source.id in GENERIC or two.source.id in GENERIC
    ):
        return not (
            one.source.family in VOICES
            and two.source.family in VOICES
            and one.source.id != "vocal" != two.source.id
        )
    if one.source.id in UTILITY_IDS or two.source.id in UTILITY_IDS:
        return pair or numbered
    if two.source.id == "overheads" and one.source.family in ("percussion", "choir", "strings bowed"):
        return True
    if two.source.family == "ambience/room" and one.source.family != "ambience/room":
        return True
    return pair and len(families & set(VOICES)) == 1 and len(families) == 2


def _draft(
    clause: Clause, group: Sequence[Anchor], begin: int, end: int, reader: RowReader, alone: bool
) -> Draft:
    anchor, source = _head(group, reader)
    draft = Draft(
        start=group[0].start,
        end=max(member.end for member in group) if _adjacent(group) else group[0].end,
        source=source,
        anchor=anchor.item,
        line=reader.row.line,
        plural=anchor.item.plural
        and not any(not hit.plural for hit in anchor.item.hits if hit.source is source),
        numbered=reader.row.numbered,
        headed=reader.row.headed,
        width=reader.row.width if not reader.drafts else 1,
    )
    around = [
        item for item in clause.items if begin <= item.start < end and all(item is not m.item for m in group)
    ]
    if reader.ahead is not None:
        apply_hints(draft, reader.ahead, reader.context, own=False)
        if reader.ahead.items and clause.lead not in (":", ","):
            draft.start = min(draft.start, reader.ahead.start)
        reader.ahead = None
    apply_hints(draft, Clause(around, clause.lead, clause.depth), reader.context, own=False)
    return draft


def _adjacent(group: Sequence[Anchor]) -> bool:
    return all(right.start - left.end <= 4 for left, right in zip(group, group[1:], strict=False))


def _head(group: Sequence[Anchor], reader: RowReader) -> tuple[Anchor, Source]:
    """Which of the words read together is the source."""
    if len(group) == 1:
        return group[0], group[0].source
    for anchor in group:
        if anchor.source.id in UTILITY_IDS:
            return anchor, anchor.source
    voices = [anchor for anchor in group if anchor.source.family in VOICES]
    others = [anchor for anchor in group if anchor.source.family not in VOICES]
    if voices and others and (len(group) == 2 or reader.row.numbered):
        return voices[0], _own_mic(voices[0].source, others[0].source, reader.context)
    first = group[0]
    if first.source.id in GENERIC:
        covered = COVERS.get(first.source.family, ())
        for anchor in group[1:]:
            if anchor.source.family in covered and anchor.source.id not in GENERIC:
                return anchor, anchor.source
    return first, first.source


def _own_mic(voice: Source, instrument: Source, context: Context) -> Source:
    if voice.id == "vocal" and instrument.family in OWN_MIC_IS_BACKING:
        return context.catalogue["backing_vocal"]
    return voice
