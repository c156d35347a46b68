"""What the rest of the list says about a doubtful word: bass, guitar, alto, weak and short abbreviations."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import pairwise

from tasks.catalogue import Catalogue, Source
from tasks.catalogue.sources import LANGUAGES
from tasks.reading.items import Item, Line
from tasks.reading.wordbook import LETTER

GUITARS = frozenset({"electric guitar", "acoustic guitar"})
VOICES = frozenset({"vocal lead", "vocal backing"})
SAXES = {"soprano": "soprano_sax", "alto": "alto_sax", "tenor": "tenor_sax", "baritone": "baritone_sax"}
BRASS_BAND = {"soprano": "cornet", "alto": "tenor_horn", "tenor": "tenor_horn", "baritone": "euphonium"}
BRASS_BAND_IDS = frozenset({"cornet", "tenor_horn", "euphonium", "flugelhorn"})
BIG_BAND_IDS = frozenset(
    {"saxophone", "sax_quartet", "soprano_sax", "alto_sax", "tenor_sax", "baritone_sax", "sax_section"}
)
FOLK_IDS = frozenset({"banjo", "mandolin", "bandoneon", "guitarron", "folk_lute", "fiddle"})
BARIS = ("bari", "baris")
BLOWN = frozenset({"brass", "woodwind"})
ELECTRIC_IDS = frozenset({"synth", "keys", "electric_drums", "playback", "click", "steel_guitar"})
FEW_LETTERS = 2


class Context:
    """Counts over the whole text, made before any row is read."""

    def __init__(self, text: str, lines: Sequence[Line], catalogue: Catalogue) -> None:
        self.text = text
        self.catalogue = catalogue
        self.families: Counter[str] = Counter()
        self.ids: Counter[str] = Counter()
        self.languages: Counter[str] = Counter()
        self.registers: set[str] = set()
        self._baris = False
        self.electric = False
        self.tallies = False
        self._count(item for line in lines for item in line.items)
        if self._is_italian():
            for line in lines:
                _quieten_di(line)
        self.brass_band = len(BRASS_BAND_IDS & set(self.ids)) >= 2
        blown = any(self.families[family] for family in BLOWN)
        self.saxes = bool(BIG_BAND_IDS & set(self.ids)) or (
            self._baris and (blown or "soprano" not in self.registers)
        )
        self.choir = self._is_choir()

    def _count(self, items: Iterable[Item]) -> None:
        for item in items:
            if item.register:
                self.registers.add(item.register)
                self._baris = self._baris or item.key in BARIS
            strong = [hit for hit in item.hits if not hit.weak]
            if (
                not strong
                or item.number is not None
                or (len(item.key) <= FEW_LETTERS and not item.raw[0].isupper())
            ):
                continue
            if len({hit.source.family for hit in strong}) == 1 and not item.register:
                self.families[strong[0].source.family] += 1
            if len(strong) == 1 and not item.register:
                self.ids[strong[0].source.id] += 1
                self.languages[strong[0].language] += 1
            if strong[0].source.id == "electric_guitar" and item.key[:2] in ("el", "e"):
                self.electric = True

    @property
    def spoken(self) -> frozenset[str]:
        """The languages that the list's own words show, English always; all where none shows."""
        shown = {language for language, often in self.languages.items() if often}
        return frozenset({"en", "house", *(shown - {"en"} or (() if shown else LANGUAGES))})

    def _is_italian(self) -> bool:
        return self.languages["it"] > 0 and self.languages["it"] == max(self.languages.values())

    def _is_choir(self) -> bool:
        return self.families["choir"] > 0 or (
            {"soprano", "alto", "tenor"} <= self.registers and not self.saxes
        )

    def _is_reed(self, source: Source) -> bool:
        """Whether a register beside a source is a saxophone: among saxophones, or under a heading of reeds."""
        return (
            source.id in BIG_BAND_IDS
            or source.id == "woodwind_section"
            or (source.family == "woodwind" and self.saxes)
        )

    def believes(self, item: Item) -> bool:
        """Whether a phrase that can mean a source does so here."""
        if not item.hits:
            return bool(item.register) and self.register(item) is not None
        if item.number is not None:
            return self.families[item.hits[0].source.family] > 0
        if all(hit.weak for hit in item.hits):
            return any(self._family_stands(hit.source.family) for hit in item.hits)
        small = item.is_("filler", "remark", "and", "or", "via", "with", "left", "right", "no", "greeting")
        if small:
            return item.raw.isupper() and len(item.raw) >= FEW_LETTERS
        return len(item.raw) > 1 or item.hits[0].language == LETTER

    def _family_stands(self, family: str) -> bool:
        kin = next((group for group in (GUITARS, VOICES) if family in group), frozenset({family}))
        return any(self.families[name] for name in kin)

    def source(self, item: Item) -> Source | None:
        """The source that a phrase means in this list."""
        if not item.hits or (item.key in BARIS and not self.saxes):
            return self.register(item)
        hits = [hit for hit in item.hits if not hit.weak] or list(item.hits)
        best = max(hits, key=lambda hit: (self._fit(hit.source, hit.language), -hits.index(hit)))
        return self._special(item, best.source)

    def _fit(self, source: Source, language: str) -> float:
        if source.id in ("tom_floor", "timpani"):
            return float((self.families["drum kit"] > 0) == (source.id == "tom_floor"))
        support = min(self.families[source.family], 3)
        return support + 2 * self.languages[language] / max(1, sum(self.languages.values()))

    def _special(self, item: Item, source: Source) -> Source:
        if source.id == "bass_guitar" and self._is_voice(item):
            return self.catalogue["choir_section" if self.families["choir"] else "solo_voice"]
        if source.id == "bass_guitar" and item.key in ("basses", "bassen", "basse", "bassi"):
            blown = len(BRASS_BAND_IDS & set(self.ids)) >= 1 and not self.families["strings bowed"]
            if blown or (item.key == "basses" and not self.families["drum kit"]):
                return self.catalogue["tuba" if blown else "double_bass"]
        if item.key in ("flugel", "fluegel") and source.family in ("brass", "piano"):
            written_german = "ü" in item.raw.lower() or item.key == "fluegel"
            return self.catalogue["grand_piano" if written_german else "flugelhorn"]
        if item.key == "tb":
            winds = self.families["brass"] + self.families["woodwind"]
            return self.catalogue["trombone" if winds >= 2 else "talkback"]
        if item.key == "horns":
            return self.catalogue["brass_section" if self._popular_horns() else "french_horn"]
        return source

    def _is_voice(self, item: Item) -> bool:
        """ "bass" beside sopranos, altos and tenors."""
        return (
            item.key in ("bass", "basses", "basse", "bassi", "bassen", "bajos", "basso", "bas")
            and self.choir
            and (len(self.registers) >= 2)
        )

    def _popular_horns(self) -> bool:
        return not self.orchestral and self.families["strings bowed"] == 0

    @property
    def orchestral(self) -> bool:
        """Orchestral winds or several bowed strings stand in the list."""
        winds = sum(self.ids[name] for name in ("oboe", "bassoon", "french_horn", "piccolo"))
        return winds >= 2 or (self.families["strings bowed"] >= 2 and winds >= 1)

    def register(self, item: Item, parent: Source | None = None) -> Source | None:
        """What "alto" or "tenor" means: a voice, a saxophone, or a horn of a brass band."""
        name = item.register
        if parent is not None and parent.id == "solo_voice":
            return parent
        if parent is not None and self._is_reed(parent):
            return self.catalogue[SAXES[name]]
        if parent is not None and parent.family == "choir":
            return self.catalogue["choir_section"]
        if self.families["choir"]:
            return self.catalogue["choir_section"]
        if name == "baritone" and BRASS_BAND_IDS & set(self.ids):
            return self.catalogue["euphonium"]
        if self.saxes or (self.families["brass"] and name != "soprano" and not self.choir):
            return self.catalogue[SAXES[name]]
        if self.brass_band:
            return self.catalogue[BRASS_BAND[name]]
        return self.catalogue["solo_voice"]

    def is_double_bass(self) -> bool:
        """Whether a plain "bass" is rather an upright one in this list."""
        if self.electric or any(self.ids[name] for name in ELECTRIC_IDS) or self.families["vocal backing"]:
            return False
        folk = any(self.ids[name] for name in FOLK_IDS) or self.families["strings bowed"] > 0
        if folk and not self.families["drum kit"]:
            return True
        winds = sum(self.families[name] for name in BLOWN)
        return self.orchestral or (
            winds > 0 and self.families["piano"] > 0 and not self.families["vocal lead"]
        )

    def is_acoustic_guitar(self) -> bool:
        """Whether a plain "guitar" is rather an acoustic one in this list."""
        if self.electric or self.families["drum kit"] or any(self.ids[name] for name in ELECTRIC_IDS):
            return (
                self.ids["double_bass"] > 0 and any(self.ids[name] for name in FOLK_IDS) and not self.electric
            )
        if any(self.families[name] for name in ("bass guitar", "brass", "electronics/playback", "keys")):
            return any(self.ids[name] for name in FOLK_IDS)
        return True


def _quieten_di(line: Line) -> None:
    """The Italian "di" between two words ("microfono di rinforzo") is no direct box."""
    for item, after in pairwise(line.items):
        if item.raw == "di" and not after.symbol and (after.unknown or after.hits):
            item.kinds = frozenset({"filler"})
