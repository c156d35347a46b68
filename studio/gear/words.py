"""How people write what they look for: one folded form of every spelling, and their words for kinds. Pure."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

PUNCTUATION = re.compile(r"[\s,;:/.#()“”\"'’+–-]+")

LEADING_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")

PEOPLES_WORDS = {
    "microphone": "mic mics mike",
    "preamp": "pre preamplifier micpre rack channel strip",
    "di": "di direct box",
    "equaliser": "eq equalizer",
    "compressor": "comp dynamics",
    "limiter": "dynamics",
    "converter": "ad da adc dac interface",
    "monitor": "speaker loudspeaker",
    "headphone_amp": "cue amp headphone",
    "headphones": "cans phones",
    "amplifier": "amp combo cabinet",
    "recorder": "tape machine",
    "adaptor": "adapter",
    "moving-coil": "dynamic",
    "large moving-coil": "dynamic kick",
    "small condenser": "capacitor pencil",
    "large condenser": "capacitor ldc",
    "clip condenser": "capacitor clip-on",
    "boundary": "plate",
    "cable": "lead wire cord",
}
"""What people say for the kinds of GearModel.Kind and Stock.Kind and the transducers of MicrophoneSpec."""


def fold(text: str) -> str:
    """One form for every way to write it: no case, no accents, either Unicode form. Straße is strasse.

    Unicode Standard Annex 15 (NFKD), then combining marks out; case folded as in the Unicode Standard, 3.13.
    """
    if text.isascii():
        return text.lower().strip()
    apart = unicodedata.normalize("NFKD", text).casefold()
    bare = "".join(c for c in unicodedata.normalize("NFKD", apart) if not unicodedata.combining(c))
    return unicodedata.normalize("NFC", bare).strip()


@lru_cache(maxsize=4096)
def pieces(text: str) -> tuple[str, ...]:
    """Folded words without the punctuation that tags and names are joined with; % and _ stay."""
    return tuple(piece for piece in PUNCTUATION.split(fold(text)) if piece)


def joined(text: str) -> str:
    """“R-02”, “r 02” and “R02” are all “r02”."""
    return "".join(pieces(text))


def plain(name: str) -> str:
    """A joined name without the zeros that lead its figures: “rb04” and “rb4” are both “rb4”."""
    return LEADING_ZEROS.sub("", name)
