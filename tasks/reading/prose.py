"""Sentences: which sources they ask for, and which they only speak of."""

from __future__ import annotations

from collections.abc import Mapping, MutableMapping

from tasks.reading.context import Context
from tasks.reading.drafts import Aside, Draft
from tasks.reading.layout import Row
from tasks.reading.pairing import COVERS, GENERIC
from tasks.reading.rowreading import RowReader

MANY_WORDS = 7
LIST_OF = 3


def is_prose(row: Row) -> bool:
    """Whether a row is a sentence rather than a line of a list."""
    if row.numbered or row.cells:
        return False
    words = row.words
    talk = sum(1 for item in words if item.is_("remark", "greeting") and not item.hits)
    if row.bullet:
        return talk >= 3
    sentence = bool(row.items) and row.items[-1].raw in ".!?" and len(words) >= MANY_WORDS - 2
    opens = bool(words) and words[0].is_("definite") and any(word.unknown for word in words) and len(words) >= MANY_WORDS - 2
    return talk >= 2 or sentence or opens or (talk >= 1 and len(words) >= MANY_WORDS)


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
    many = len(reader.drafts) >= LIST_OF
    for draft in reader.drafts:
        known = _listed(draft, listed)
        if known is not None and (_is_definite(draft, reader, context) or not _is_counted(draft)) and not many:
            _pass_on(draft, known)
            asides.append(Aside(draft.start, draft.end, "speaks of an entry"))
        elif _is_question(reader, context) or not (_is_counted(draft) or draft.pickups or len(reader.drafts) >= 2):
            asides.append(Aside(draft.start, draft.end, "", ask=True, suggestions=(draft.source.name,)))
        else:
            kept.append(draft)
    for draft in kept:
        listed.setdefault(draft.source.id, draft)
    return kept, asides


def _listed(draft: Draft, listed: Mapping[str, Draft]) -> Draft | None:
    """The entry that a word of a sentence may speak of: the same source, or for a plain word ("the guitar") its kind."""
    if draft.source.id in listed or draft.source.id not in GENERIC:
        return listed.get(draft.source.id)
    families = COVERS.get(draft.source.family, ())
    return next((entry for entry in listed.values() if entry.source.family in families), None)


def _is_counted(draft: Draft) -> bool:
    return draft.count is not None or draft.channels is not None or draft.stereo or draft.both


def _is_definite(draft: Draft, reader: RowReader, context: Context) -> bool:
    """ "the guitar", "la contrebasse": something already named."""
    before = [item for item in reader.row.items if item.end <= draft.anchor.start]
    return bool(before) and before[-1].is_("definite") and draft.anchor.start - before[-1].end <= 1


def _is_question(reader: RowReader, context: Context) -> bool:
    return context.text[reader.row.start : reader.row.end].rstrip().endswith("?")


def _pass_on(said: Draft, known: Draft) -> None:
    """What a sentence adds to an entry that was bare so far."""
    if known.bare:
        known.pickups |= said.pickups
        known.added = said.added
        known.channels = said.channels if said.channels is not None else known.channels
        if said.count and said.pickups:
            known.channels = said.count
