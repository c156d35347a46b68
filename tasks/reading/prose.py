"""Sentences: which sources they ask for, and which they only speak of."""

from __future__ import annotations

from collections.abc import Mapping, MutableMapping
from dataclasses import replace

from tasks.reading.context import Context
from tasks.reading.drafts import Aside, Draft
from tasks.reading.finishing import PAIR_WORDS
from tasks.reading.items import Item
from tasks.reading.layout import Row
from tasks.reading.pairing import COVERS, GENERIC
from tasks.reading.rowreading import RowReader

MANY_WORDS = 7
LIST_OF = 3
ONE_OF = frozenset({"a", "an", "ein", "eine", "einen", "einem", "un", "une", "una", "uno", "een", "another"})
BASSES = ("bass guitar", "double bass")
BRINGING = frozenset(
    {
        "bring",
        "brings",
        "bringing",
        "bringt",
        "bringen",
        "apporte",
        "apportons",
        "trae",
        "traen",
        "traemos",
        "porta",
    }
    | {"portano", "portiamo", "brengt", "brengen", "has", "owns"}
)


def is_prose(row: Row) -> bool:
    """Whether a row is a sentence rather than a line of a list."""
    if row.numbered or row.cells:
        return False
    words = row.words
    if _is_entry_with_remark(row):
        return False
    talk = sum(1 for item in words if item.is_("remark", "greeting") and not item.hits)
    if row.bullet:
        return talk >= 3
    sentence = bool(row.items) and row.items[-1].raw in ".!?" and len(words) >= MANY_WORDS - 2
    opens = (
        bool(words)
        and words[0].is_("definite")
        and any(word.unknown for word in words)
        and len(words) >= MANY_WORDS - 2
    )
    return talk >= 2 or sentence or opens or (talk >= 1 and len(words) >= MANY_WORDS)


def _is_entry_with_remark(row: Row) -> bool:
    """ "trumpet - whatever you have": a source, perhaps counted, then a dash or colon and what is said of it."""
    items = row.items[1:] if row.items and row.items[0].number is not None else row.items
    if len(items) < 3 or not items[0].hits or items[0].is_("remark", "greeting", "filler"):
        return False
    return items[1].symbol and items[1].raw in ":-–—" and items[2].gap > 0


def believed(
    reader: RowReader, listed: MutableMapping[str, Draft], context: Context
) -> tuple[list[Draft], list[Aside]]:
    """The entries of a row; of a sentence only what it asks for. What it says of a listed entry is added to that.

    listed: the entries so far by source id; new ones are put in.
    """
    if not reader.prose:
        return reader.drafts, []
    kept: list[Draft] = []
    asides: list[Aside] = []
    told = sum(1 for draft in reader.drafts if _listed(draft, listed) is not None)
    many = len(reader.drafts) >= LIST_OF and told * 2 < len(reader.drafts)
    drafts = [draft for draft in reader.drafts if not _is_place(draft)]
    asides += [Aside(draft.start, draft.end, "remark") for draft in reader.drafts if _is_place(draft)]
    for draft in drafts:
        known = _listed(draft, listed)
        old = known is not None and not many and (_is_definite(draft, reader) or not _is_counted(draft))
        if old and known is not None:
            _pass_on(draft, known)
            asides.append(Aside(draft.start, draft.end, "speaks of an entry"))
        elif _is_question(reader, context) or _is_brought(draft, reader) or not _is_said(draft, reader):
            asides.append(Aside(draft.start, draft.end, "", ask=True, suggestions=(draft.source.name,)))
        else:
            kept.append(draft)
    for draft in kept:
        listed.setdefault(draft.source.id, draft)
    return kept, asides


def _is_place(draft: Draft) -> bool:
    """In a sentence a room is a place, unless it has microphones, and to track is to record."""
    if draft.anchor.key == "track":
        return True
    paired = any(word in draft.anchor.raw.lower() for word in PAIR_WORDS)
    return (
        draft.source.family == "ambience/room"
        and not paired
        and not (draft.pickups or draft.stereo or draft.mono)
        and not any(word in draft.anchor.raw.lower() for word in ("mic", "mono"))
    )


def sentences(row: Row) -> list[Row]:
    """The sentences of a row that is one."""
    parts, begin = [], 0
    for at, item in enumerate(row.items[:-1]):
        after = row.items[at + 1]
        ends = item.symbol and item.raw in ".!?" and after.gap and after.raw[:1].isupper() and at - begin >= 2
        if ends and len(row.items[at - 1].raw) > 3:
            parts.append(row.items[begin : at + 1])
            begin = at + 1
    parts.append(row.items[begin:])
    if len(parts) == 1:
        return [row]
    return [replace(row, start=part[0].start, end=part[-1].end, items=part) for part in parts]


def _listed(draft: Draft, listed: Mapping[str, Draft]) -> Draft | None:
    """The entry that a word of a sentence may speak of: the same source, or for "the guitar" one of its kind."""
    if draft.source.id in listed or (draft.source.id not in GENERIC and draft.source.family not in BASSES):
        return listed.get(draft.source.id)
    families = (*COVERS.get(draft.source.family, ()), *(BASSES if draft.source.family in BASSES else ()))
    return next((entry for entry in listed.values() if entry.source.family in families), None)


def _is_counted(draft: Draft) -> bool:
    if draft.source.family == "ambience/room" and any(
        word in draft.anchor.raw.lower() for word in PAIR_WORDS
    ):
        return True
    return draft.count is not None or draft.channels is not None or draft.stereo or draft.both


def _is_said(draft: Draft, reader: RowReader) -> bool:
    """Whether a sentence asks for a source: it counts it, says how it is picked up, or brings it in among others."""
    article = _word_before(draft, reader)
    new = article is not None and article.key in ONE_OF
    return new or _is_counted(draft) or bool(draft.pickups) or len(reader.drafts) >= 2


def _word_before(draft: Draft, reader: RowReader) -> Item | None:
    before = [item for item in reader.row.items if item.end <= draft.anchor.start]
    near = bool(before) and draft.anchor.start - before[-1].end <= 1
    return before[-1] if near else None


def _is_definite(draft: Draft, reader: RowReader) -> bool:
    """ "the guitar", "la contrebasse": something already named."""
    article = _word_before(draft, reader)
    return article is not None and article.is_("definite")


def _is_question(reader: RowReader, context: Context) -> bool:
    return context.text[reader.row.start : reader.row.end].rstrip().endswith("?")


def _is_brought(draft: Draft, reader: RowReader) -> bool:
    """ "The drummer brings his own cymbals": gear that comes along, perhaps no input."""
    bare = not (_is_counted(draft) or draft.pickups)
    return bare and any(item.key in BRINGING and item.start < draft.start for item in reader.row.items)


def _pass_on(said: Draft, known: Draft) -> None:
    """What a sentence adds to an entry that was bare so far."""
    if known.bare:
        known.pickups |= said.pickups
        known.added = said.added
        known.channels = said.channels if said.channels is not None else known.channels
        if said.count and said.pickups:
            known.channels = said.count
