"""The records of the catalogue: what each source is called and how the house picks it up.

Distances are centimetres from the source, levels peak dB SPL at the microphone, corners hertz.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from tasks.catalogue.alternates import Alternate
from tasks.catalogue.arrays import ArrayPractice
from tasks.catalogue.chains import ChainPractice

FAMILIES = (
    "drum kit",
    "percussion",
    "bass guitar",
    "double bass",
    "electric guitar",
    "acoustic guitar",
    "plucked other",
    "piano",
    "keys",
    "organ",
    "accordion/free reed",
    "vocal lead",
    "vocal backing",
    "choir",
    "speech",
    "strings bowed",
    "brass",
    "woodwind",
    "harp",
    "electronics/playback",
    "talkback/utility",
    "ambience/room",
    "other",
)
PICKUPS = ("mic", "di", "mic+di", "line", "unknown")
MICROPHONE_KINDS = (
    "moving-coil",
    "large moving-coil",
    "small condenser",
    "large condenser",
    "ribbon",
    "boundary",
    "clip condenser",
)
DI_KINDS = ("active di", "passive di")
STANDS = ("tall boom", "short boom", "straight", "clip", "none")
LANGUAGES = ("en", "de", "fr", "es", "it", "nl")


@dataclass(frozen=True, slots=True)
class Alias:
    """One way of writing a source. plural: the word itself says more than one."""

    text: str
    language: str
    plural: bool = False


@dataclass(frozen=True, slots=True)
class Source:
    """One kind of sound source.

    pickup: what a list that says nothing means ("unknown" where the trade takes nothing for granted);
    house_pickup: what the house then plans. bare_channels: channels of the word alone, None where it doesn't say;
    house_channels: what the house then plans. parts: ids that the bare word is expanded into.
    group: a heading over others ("horns", "strings"); members named below it take its place.
    pair: two microphones are the usual way, so "two overheads" are one pair.
    """

    id: str
    name: str
    family: str
    aliases: tuple[Alias, ...]
    pickup: str
    house_pickup: str
    bare_channels: int | None
    house_channels: int
    kinds: tuple[str, ...]
    di_kinds: tuple[str, ...]
    position: str
    distance_cm: tuple[float, float] | None
    pattern: str
    stand: str
    peak_spl_db: float | None
    pad_db: float
    high_pass_hz: float
    priority: int
    cautions: tuple[str, ...]
    evidence: str
    parts: tuple[str, ...] = ()
    group: bool = False
    pair: bool = False
    label: str = ""

    @property
    def short(self) -> str:
        """The words that go on an input list."""
        return self.label or self.name[:1].upper() + self.name[1:]


@dataclass(frozen=True, eq=False)
class Catalogue:
    """All sources, in the order of the files. Compared by identity, so that it can be a key of caches."""

    sources: tuple[Source, ...]
    by_id: Mapping[str, Source] = field(repr=False)
    chains: ChainPractice = field(default_factory=ChainPractice, repr=False)
    arrays: ArrayPractice = field(default_factory=ArrayPractice, repr=False)
    alternates: Mapping[str, tuple[Alternate, ...]] = field(default_factory=dict, repr=False)

    @cached_property
    def by_name(self) -> Mapping[str, Source]:
        """By the name that a plan keeps; every source has one of its own."""
        return {source.name: source for source in self.sources}

    def __getitem__(self, source_id: str) -> Source:
        return self.by_id[source_id]
