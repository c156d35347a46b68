"""Drafts of the whole list to entries: headings fall away, numbers and pickups are settled."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from tasks.catalogue import Source
from tasks.reading.context import Context
from tasks.reading.drafts import Aside, Draft
from tasks.reading.layout import Row
from tasks.reading.pairing import COVERS, GENERIC
from tasks.reading.records import ReadSource

PAIR_WORDS = ("pair", "paar", "couple", "coppia", "stereo", "par ", "stéréo", "estéreo")
OPEN_COUNT = ("drum_kit", "percussion", "string_section", "choir", "choir_section", "timpani")
BAND = ("drum kit", "bass guitar", "electric guitar")
MOST_KITS = 2
SMALL_CHOIR = 6
MOST_SOLOISTS = 3
CHOIR_OR_BACKING = frozenset({"coro", "coros", "chor", "choeur", "choeurs", "cori", "koor", "koren"})
FEWEST_BELOW = 3
SIZED_HEADING = re.compile(r"[^\W\d]+ ?\(\d{1,2}( ?[^\W\d]{2,9})?\):?")
HALVES = {
    "snare_top": ("snare", "top"),
    "snare_bottom": ("snare", "bottom"),
    "kick_in": ("kick", "in"),
    "kick_out": ("kick", "out"),
}
OTHERWISE = {
    ("drum_kit", "electric"): "electronic_drums",
    ("drum_kit", "digital"): "electronic_drums",
    ("electric_guitar", "acoustic"): "acoustic_guitar",
    ("electric_guitar", "nylon"): "classical_guitar",
    ("bass_guitar", "upright"): "double_bass",
    ("bass_guitar", "acoustic"): "double_bass",
    ("piano", "electric"): "electric_piano",
    ("piano", "digital"): "electric_piano",
    ("piano", "upright"): "upright_piano",
    ("piano", "grand"): "grand_piano",
}
VOICES = ("vocal", "backing_vocal", "lead_vocal")


def drop_headings(
    drafts: Sequence[Draft], rows: Sequence[Row], lines: Sequence[str]
) -> tuple[list[Draft], list[Aside]]:
    """Takes out the entries that only head others ("Drums:" above kick and snare)."""
    kept, asides = [], []
    alone = _alone(drafts)
    titles = _titles(drafts)
    for at, draft in enumerate(drafts):
        below = drafts[at + 1] if at + 1 < len(drafts) else None
        if (
            draft.line in titles
            or _is_whole(drafts, at)
            or (below is not None and _heads(draft, below, alone[at], lines))
        ):
            asides.append(Aside(draft.start, draft.end, "heading"))
        else:
            kept.append(draft)
    return kept, asides


def _alone(drafts: Sequence[Draft]) -> list[bool]:
    per_line: dict[int, int] = {}
    for draft in drafts:
        per_line[draft.line] = per_line.get(draft.line, 0) + 1
    return [per_line[draft.line] == 1 for draft in drafts]


def _is_whole(drafts: Sequence[Draft], at: int) -> bool:
    """ "My drum setup is kick, snare, hat": the kit itself where its pieces follow on the line."""
    kit = drafts[at]
    if kit.source.id != "drum_kit" or not kit.bare:
        return False
    after = drafts[at + 1 : at + 1 + FEWEST_BELOW]
    pieces = [draft for draft in after if draft.line == kit.line and draft.source.id != "drum_kit"]
    return len(pieces) == FEWEST_BELOW and all(draft.source.family == "drum kit" for draft in pieces)


def _titles(drafts: Sequence[Draft]) -> set[int]:
    """Lines above a list that only say what the list holds: "Choir & organ", "We are drums, bass and two guitars"."""
    first = next((draft.line for draft in drafts if draft.numbered or draft.bullet), None)
    if first is None:
        return set()
    listed = [draft for draft in drafts if draft.line >= first and (draft.numbered or draft.bullet)]
    if len(listed) < FEWEST_BELOW:
        return set()
    families = {draft.source.family for draft in listed}
    above: dict[int, list[Draft]] = {}
    for draft in drafts:
        if draft.line < first:
            above.setdefault(draft.line, []).append(draft)
    return {
        line
        for line, named in above.items()
        if len(named) > 1 and all(_is_listed_again(draft, families) for draft in named)
    }


def _is_listed_again(draft: Draft, listed: Collection[str]) -> bool:
    return any(family in listed for family in COVERS.get(draft.source.family, (draft.source.family,)))


def _heads(draft: Draft, below: Draft, alone: bool, lines: Sequence[str]) -> bool:
    if below.source.family not in COVERS.get(draft.source.family, (draft.source.family,)):
        return False
    return draft.parent or (alone and _heads_next(draft, below, lines))


def _heads_next(draft: Draft, below: Draft, lines: Sequence[str]) -> bool:
    """Whether an entry alone on its line is a heading over the next line's entry."""
    text, under = lines[draft.line].strip().strip("*_"), lines[below.line].strip()
    counted = text.endswith(":") and draft.count is not None and not (draft.pickups or draft.sides)
    sized = counted or (draft.source.group and bool(SIZED_HEADING.fullmatch(text)))
    if draft.numbered or not (draft.bare or sized) or below.line == draft.line:
        return False
    if (
        any(not lines[number].strip() for number in range(draft.line + 1, min(below.line, draft.line + 5)))
        and not below.numbered
    ):
        return False
    marked = text.endswith(":") or text.startswith("#") or (text.isupper() and not under.isupper())
    marked = marked or lines[draft.line].strip().startswith("**") or (below.bullet and not draft.bullet)
    if draft.source.group:
        return marked or below.source.id != draft.source.id
    if draft.plural:
        named = below.source.id == draft.source.id and bool(below.index or below.sides)
        return marked or named or (draft.source.id in GENERIC and below.source.id != draft.source.id)
    return marked


def finish(draft: Draft, context: Context) -> ReadSource:
    """The entry that a draft has become."""
    _rejoin(draft, context)
    source = settle_source(draft, context)
    channels, count = settle_numbers(draft, source)
    return ReadSource(
        start=draft.start,
        as_written=context.text[draft.start : draft.end],
        source_id=source.id,
        source=source.name,
        family=source.family,
        count=count,
        channels=channels,
        pickup=settle_pickup(draft, source),
        sides=tuple(draft.sides) or (("L", "R") if channels == 2 and (draft.both or draft.stereo) else ()),
        index=tuple(draft.index),
        optional=draft.optional,
        wish=draft.wish,
        wish_binds=draft.wish_binds,
        note=draft.note,
    )


def _rejoin(draft: Draft, context: Context) -> None:
    """ "Snare top / bottom": the first half was read as a source of its own; both halves belong to the snare."""
    whole = HALVES.get(draft.source.id)
    if whole is not None and draft.sides and draft.sides[0] != whole[1]:
        draft.source = context.catalogue[whole[0]]
        draft.sides.insert(0, whole[1])


def settle_source(draft: Draft, context: Context) -> Source:
    """Bass, guitar and numbered voices, once the whole list is known."""
    source = draft.source
    if draft.adjective and source.id in {name for name, _ in OTHERWISE}:
        return _settle_adjective(draft, source, context)
    if source.id == "bass_guitar" and draft.anchor.is_("plain_bass") and not draft.amp:
        return context.catalogue["double_bass"] if context.is_double_bass() else source
    if source.id == "electric_guitar" and draft.anchor.is_("plain_guitar") and not draft.amp:
        return context.catalogue["acoustic_guitar"] if context.is_acoustic_guitar() else source
    if source.id == "vocal":
        return _settle_vocal(draft, source, context)
    if source.id == "choir" and _is_backing(draft, context):
        return context.catalogue["backing_vocal"]
    if (
        source.id == "solo_voice"
        and not draft.anchor.means("solo_voice")
        and (draft.count or 0) > MOST_SOLOISTS
    ):
        return context.catalogue["choir_section"]
    return source


def _settle_vocal(draft: Draft, source: Source, context: Context) -> Source:
    if draft.lead:
        return context.catalogue["lead_vocal"]
    if len(draft.index) == 1 and draft.index[0] > 1:
        return context.catalogue["backing_vocal"]
    return source


def _is_backing(draft: Draft, context: Context) -> bool:
    """ "Coro 1", "Chor (Bassist)" in a band's list: a singer, not a choir."""
    word = draft.anchor.key in CHOIR_OR_BACKING
    band = any(context.families[family] for family in BAND)
    band = band or (bool(draft.index) and context.families["vocal lead"] > 0)
    few = bool(draft.index) or draft.numbered or (draft.count or 99) <= SMALL_CHOIR
    return word and band and few and not (draft.both or draft.stereo or (draft.sides and not draft.placed))


def _settle_adjective(draft: Draft, source: Source, context: Context) -> Source:
    other = OTHERWISE.get((source.id, draft.adjective))
    return context.catalogue[other] if other else source


def settle_numbers(draft: Draft, source: Source) -> tuple[int | None, int | None]:
    """(channels of one, count); None where the list doesn't say."""
    count = draft.count if draft.count is not None or draft.singers < 2 else draft.singers
    if source.family == "choir" and draft.channels is not None and count != draft.channels:
        return draft.channels, 1
    if source.id == "drum_kit" and count and count > MOST_KITS and draft.channels is None:
        return count, 1
    if count and count > 1 and len(draft.sides) == count and not draft.both:
        return 1, count
    if draft.index and len(draft.index) > 1:
        count = len(draft.index) if count is None else count
    wide = _width_of_one(draft, source)
    if draft.width > 1:
        if count and count > 1 and draft.width % count == 0:
            return draft.width // count, count
        return draft.width, 1
    if draft.channels is not None:
        if draft.shared:
            return draft.channels, 1
        if count and count > 1 and draft.channels == count:
            return 1, count
        if wide == 2 and draft.channels == 1:
            return 2, count or 1
        return draft.channels, count or 1
    if wide is not None:
        if count == 2 and wide == 2 and (source.pair or draft.both):
            return 2, 1
        return wide, count or 1
    if count is not None:
        return _channels_of_many(draft, source, count), count
    return _unstated(draft, source), 1


def _width_of_one(draft: Draft, source: Source) -> int | None:
    """Channels of one that stereo, sides or two pickups say."""
    if draft.both:
        return 2
    if draft.sides:
        return len(draft.sides)
    if draft.stereo or (any(word in draft.anchor.raw.lower() for word in PAIR_WORDS) and not draft.numbered):
        return 2
    if draft.mono:
        return 1
    if draft.added and ({"mic", "di"} <= draft.pickups or (draft.amp and "di" in draft.pickups)):
        return 2
    return None


def _channels_of_many(draft: Draft, source: Source, count: int) -> int | None:
    miked = bool(draft.pickups) or "mic" in draft.anchor.raw.lower() or "mik" in draft.anchor.raw.lower()
    if draft.section or (source.id in OPEN_COUNT and not miked):
        return None
    if count == 1:
        return source.bare_channels
    if source.bare_channels is not None and source.bare_channels > 1:
        return source.bare_channels
    return 1


def _unstated(draft: Draft, source: Source) -> int | None:
    if draft.index or draft.sides:
        return 1
    if draft.numbered:
        return None if source.id == "drum_kit" and not draft.headed else _one_row(source)
    if draft.person and source.id in VOICES:
        return 1
    if draft.plural:
        return None
    return source.bare_channels


def _one_row(source: Source) -> int:
    return source.bare_channels if source.bare_channels is not None and source.bare_channels > 1 else 1


def settle_pickup(draft: Draft, source: Source) -> str:
    """Stated, or what the trade takes for granted, or unknown."""
    heard = draft.pickups
    if "di" in heard and ("mic" in heard or draft.amp) and (draft.added or "mic" in heard):
        return "mic+di" if draft.added or source.pickup == "unknown" else "di"
    if "di" in heard:
        return "di"
    if "mic" in heard:
        return "mic"
    if draft.amp and source.family in ("electric guitar", "keys", "organ", "accordion/free reed"):
        return "mic"
    if "line" in heard and source.pickup != "mic":
        return "line" if source.family not in ("electric guitar", "acoustic guitar", "bass guitar") else "di"
    return source.pickup
