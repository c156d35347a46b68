"""What kind of thing a row names, in words of six languages; its channels, how it works, whether it is counted."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from studio.importing.words import all_found_in, data, fold, found_in

COUNTED = {"stand": "stand", "cable": "cable", "consumable": "other"}
HAS_CHANNELS = re.compile(
    r"(\d{1,3})\s*-?\s*(?:ch(?:an(?:nels?)?)?|kan(?:al|äle)?|voies?|canaux|can(?:ales|ali)?|kanaals?|kanalen|fach|in)\b",
    re.IGNORECASE,
)
HAVE_STANDS = {"microphone", "instrument", "headphones", "monitor"}
INSIDE_VALVE = frozenset({"rohren", "lampes", "buizen"})
WITH = re.compile(r"\b(?:with|incl\w*|mit|inkl\w*|avec|con|met|c/w|\+)\s|\+", re.IGNORECASE)
LENGTH = re.compile(r"\bxlr\b.*\d\s*m\b|\b\d+([.,]\d+)?\s?m\b.*\bxlr\b", re.IGNORECASE)
DEFAULT_CHANNELS = {"stereo": 2, "mono": 1, "dual": 2, "quad": 4}


@dataclass(frozen=True, slots=True)
class Kind:
    """name empty: not known. counted: the kind of stock it is, where it is counted and not tagged."""

    name: str = ""
    channels: int = 0
    transducer: str = ""
    valve: bool = False
    active: bool | None = None

    @property
    def counted(self) -> str:
        return COUNTED.get(self.name, "")


@cache
def _phrases(group: str) -> dict[str, str]:
    return {fold(word): name for name, found in data("kinds")[group].items() for word in found}


@cache
def _phrase_set(group: str) -> frozenset[str]:
    return frozenset(_phrases(group))


@cache
def _saying(what: str) -> frozenset[str]:
    return frozenset(fold(word) for word in data("kinds")["says"][what])


def kind_name(text: str) -> str:
    """The kind that the text names: by its longest known phrase. Empty: none.

    A microphone stand is a stand, a kick drum's microphone a microphone.
    """
    found = [
        _phrases("kinds")[phrase]
        for phrase in all_found_in(WITH.split(text)[0] or text, _phrase_set("kinds"), inside=True)
    ]
    if counted := [kind for kind in found if kind in COUNTED]:
        return counted[0] if found[0] in HAVE_STANDS else found[0]
    others = [kind for kind in found if kind != "instrument"]
    return next(iter(others or found), "")


def kind_names() -> list[str]:
    return list(data("kinds")["kinds"])


def without_said(model: str) -> str:
    """A model without brackets that only say what kind of thing it is, as in “ML-40v (valve)”."""
    match = re.search(r"\s*\(([^()]*)\)\s*$", model)
    if not match or not match.start():
        return model
    known = _phrases("kinds").keys() | _phrases("transducers").keys() | _phrases("says").keys()
    return model[: match.start()] if fold(match[1]) in known or HAS_CHANNELS.fullmatch(match[1]) else model


def read_kind(texts: Iterable[str], section: str = "", remembered: Mapping[str, str] | None = None) -> Kind:
    """texts: the cells that may say it, the surest first. section: the kind of the heading above."""
    texts = [text for text in texts if text]
    names = [
        (remembered or {}).get(fold(text)) or ("cable" if LENGTH.search(text) else kind_name(text))
        for text in texts
    ]
    name = next((name for name in names if name), section)
    whole = " ".join(texts)
    transducer = found_in(whole, _phrase_set("transducers"), inside=True) if name == "microphone" else ""
    return Kind(
        name,
        _channels(whole, name),
        _phrases("transducers")[transducer] if transducer else "",
        bool(_says("valve", whole)),
        True if _says("active", whole) else False if _says("passive", whole) else None,
    )


def _says(what: str, text: str) -> str:
    return found_in(text, _saying(what)) or (
        found_in(text, INSIDE_VALVE, inside=True) if what == "valve" else ""
    )


def _channels(text: str, name: str) -> int:
    if match := HAS_CHANNELS.search(text):
        return int(match[1])
    if name in {"preamp", "compressor", "equaliser", "limiter", "converter"}:
        return next((count for word, count in DEFAULT_CHANNELS.items() if found_in(text, [word])), 0)
    return 0
