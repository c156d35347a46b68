"""From inputs to what stands on the floor: a kit is one thing, so is a pair, or an amplifier with its DI. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from hashlib import sha256
from math import log10, sqrt

from tasks.catalogue.sources import Catalogue, Source

HALVES = {"L", "R", "DI", "mic", "amp", "top", "bottom", "in", "out", "front", "rear", "high", "low"}
"""The words at the end of a label that tell inputs of one source apart (tasks.catalogue.needs)."""
LOUD_AT_1_M_DB = 112
QUIET_AT_1_M_DB = 106
"""Between what drowns others and what is drowned. Common practice, no single source."""


class Kind(StrEnum):
    KIT = "kit"
    AMP = "amplifier"
    SINGER = "singer"
    PLAYER = "player"
    PIANO = "piano"
    KEYS = "keys"
    CHOIR = "choir"
    PLAYBACK = "playback"
    ARRAY = "microphones"


RADIUS_M = {
    Kind.KIT: 1.2,
    Kind.AMP: 0.5,
    Kind.SINGER: 0.6,
    Kind.PLAYER: 0.6,
    Kind.PIANO: 0.95,
    Kind.KEYS: 0.8,
    Kind.CHOIR: 1.5,
    Kind.PLAYBACK: 0.4,
    Kind.ARRAY: 0.35,
}
LARGE_M = {
    "speech": 0.45,
    "grand_piano": 1.5,
    "double_bass": 0.75,
    "cello": 0.7,
    "harp": 0.8,
    "timpani": 1.2,
    "marimba": 1.2,
    "vibraphone": 0.9,
    "xylophone": 0.9,
    "concert_bass_drum": 0.9,
    "tubular_bells": 0.8,
    "gong": 0.8,
    "steel_pan": 0.8,
    "congas": 0.7,
    "harpsichord": 1.2,
    "string_quartet": 1.5,
    "string_section": 1.8,
    "brass_section": 1.5,
    "brass_quintet": 1.5,
    "woodwind_section": 1.5,
    "sax_section": 1.5,
    "sax_quartet": 1.3,
    "electronic_drums": 1.0,
}
"""Half of what each takes up with player, chair and stands: common practice, no single source."""
FAMILIES = {
    "drum kit": Kind.KIT,
    "electric guitar": Kind.AMP,
    "piano": Kind.PIANO,
    "keys": Kind.KEYS,
    "organ": Kind.KEYS,
    "vocal lead": Kind.SINGER,
    "vocal backing": Kind.SINGER,
    "speech": Kind.SINGER,
    "choir": Kind.CHOIR,
    "electronics/playback": Kind.PLAYBACK,
    "talkback/utility": Kind.PLAYBACK,
    "ambience/room": Kind.ARRAY,
}
APART_FROM_FAMILY = {
    "drum_room": Kind.ARRAY,
    "electronic_drums": Kind.PLAYER,
    "electric_piano": Kind.KEYS,
    "guitar_processor": Kind.PLAYER,
    "measurement_mic": Kind.ARRAY,
}


@dataclass(frozen=True, slots=True)
class FloorInput:
    """What the floor has to know of one input. stand is empty for none, line 0 where it isn't given yet."""

    number: int
    label: str
    source: str
    pickup: str
    stand: str = ""
    line: int = 0
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Station:
    """What stands in one place. near_m: how near its farthest microphone may come; at_1_m_db: its peaks at 1 m.

    both are None where nothing of it is picked up by a microphone.
    """

    key: str
    kind: Kind
    family: str
    source_id: str
    inputs: tuple[FloorInput, ...]
    radius: float
    near_m: float | None
    at_1_m_db: float | None

    @property
    def loud(self) -> bool:
        by_level = self.at_1_m_db is not None and self.at_1_m_db >= LOUD_AT_1_M_DB
        return self.kind in (Kind.KIT, Kind.AMP) or (by_level and self.kind is Kind.PLAYER)

    @property
    def quiet(self) -> bool:
        by_level = self.at_1_m_db is not None and self.at_1_m_db <= QUIET_AT_1_M_DB
        acoustic = self.kind in (Kind.PLAYER, Kind.PIANO, Kind.CHOIR)
        return self.kind is Kind.SINGER or (acoustic and by_level)

    @property
    def numbers(self) -> tuple[int, ...]:
        return tuple(each.number for each in self.inputs)

    @property
    def microphones(self) -> tuple[FloorInput, ...]:
        return tuple(each for each in self.inputs if each.pickup == "mic")


def token(key: str) -> str:
    """A short name of a source for the fields of a form, which stays the same whatever comes before it in the list."""
    return sha256(key.encode()).hexdigest()[:8]


def stations(inputs: Iterable[FloorInput], catalogue: Catalogue) -> tuple[Station, ...]:
    """In the order of the list."""
    together: dict[str, list[FloorInput]] = {}
    for each in inputs:
        together.setdefault(_key(each, catalogue.by_name.get(each.source)), []).append(each)
    return tuple(_station(key, group, catalogue) for key, group in together.items())


def _key(each: FloorInput, source: Source | None) -> str:
    kind = _kind(source, [each])
    if kind is Kind.KIT:
        return "Drums"
    if kind is Kind.CHOIR and source:
        return source.short
    words = each.label.split()
    while len(words) > 1 and words[-1] in HALVES:
        words.pop()
    return " ".join(words)


def _kind(source: Source | None, inputs: Sequence[FloorInput]) -> Kind:
    if source is None:
        return Kind.PLAYER
    if source.id in APART_FROM_FAMILY:
        return APART_FROM_FAMILY[source.id]
    miked = any(each.pickup == "mic" for each in inputs)
    if source.family in ("electric guitar", "bass guitar"):
        return Kind.AMP if miked and source.id != "acoustic_bass_guitar" else Kind.PLAYER
    return FAMILIES.get(source.family, Kind.PLAYER)


def _station(key: str, inputs: Sequence[FloorInput], catalogue: Catalogue) -> Station:
    sources = [source for each in inputs if (source := catalogue.by_name.get(each.source))]
    first = sources[0] if sources else None
    kind = _kind(first, inputs)
    miked = [
        source
        for each in inputs
        if each.pickup == "mic" and (source := catalogue.by_name.get(each.source)) and source.distance_cm
    ]
    near = max((source.distance_cm[0] / 100 for source in miked if source.distance_cm), default=None)
    levels = [_at_1_m(source) for source in miked if source.peak_spl_db is not None]
    radius = LARGE_M.get(first.id, RADIUS_M[kind]) if first else RADIUS_M[kind]
    if kind is Kind.CHOIR:
        radius = round(radius * sqrt(max(1, len(inputs) / 2)), 2)
    return Station(
        key=key,
        kind=kind,
        family=first.family if first else "other",
        source_id=first.id if first else "",
        inputs=tuple(inputs),
        radius=radius,
        near_m=near,
        at_1_m_db=max(levels, default=None),
    )


def _at_1_m(source: Source) -> float:
    """The peaks at the microphone, carried out to 1 m by the inverse distance law: 20·log10."""
    near, far = source.distance_cm or (100.0, 100.0)
    return (source.peak_spl_db or 0) + 20 * log10(sqrt(near * far) / 100) if near * far else 0.0
