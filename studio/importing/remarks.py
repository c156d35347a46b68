"""What is wrong, or must never be done, as a remark in a cell says it: channel, effect, how bad, and which of several.

A ban on phantom is a property of a unit that takes phantom; “no phantom” of a thing that gives it is a fault. Which
of the two a remark means is told by a channel number and by the kind of the thing, else it is asked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache

from studio.importing.words import data, fold, found_in, words

GIVES_PHANTOM = {"preamp", "converter", "recorder", "amplifier", "headphone_amp"}
PHANTOM = r"(?:\+?\s?48\s?v?\b|p\s?48|phantom\w*|fant[oôó]m\w*|fantasma)"
BAN = re.compile(
    r"\b(?:no|not|never|don'?t|kein\w*|nie\w*|ohne|jamais|pas|sans|nunca|sin|mai|senza|niente|geen|nooit|non)\b"
    rf"[^.,;]{{0,24}}?{PHANTOM}|{PHANTOM}[^.,;]{{0,12}}?\b(?:never|verboten|interdit\w*|prohibid\w*|vietat\w*|verboden)\b",
    re.IGNORECASE,
)
LACKING = re.compile(
    rf"{PHANTOM}[^.,;]{{0,16}}?\b(?:absent\w*|missing|dead|gone|fehlt|fehlend|tot|defekt|kaputt|weg|manqu\w*|hs|"
    r"en panne|falta|no va|manca|assente|guasta|ontbreekt|kapot|defect|not working|doesn'?t work|geht nicht)\b",
    re.IGNORECASE,
)
NEEDS = re.compile(
    rf"\b(?:needs?|requires?|only with|braucht|nur mit|benötigt|nécessite|besoin|avec|necesita|requiere|richiede|serve|"
    rf"vereist|heeft)\b[^.,;]{{0,12}}?{PHANTOM}|{PHANTOM}[^.,;]{{0,12}}?\b(?:needed|required|nötig|erforderlich|requise?|"
    rf"obligatoire|necesari[ao]|necessari[ao]|nodig|vereist)\b",
    re.IGNORECASE,
)
CHANNEL = re.compile(
    r"\b(?:ch(?:an(?:nels?)?)?|kan(?:al|äle)?|voies?|can(?:al(?:es|i|e)?|aux)?|kanaal|kanalen|inputs?|eingang|entr[ée]e|"
    r"entrada|ingresso|ingang|out(?:put)?|ausgang|sortie|salida|uscita|uitgang|track|spur|piste|pista|spoor|fader|except|au(?:ß|ss)er|sauf|excepto|salvo|eccetto|tranne|behalve)s?"
    r"\.?\s*#?(\d{1,3}(?:\s*(?:[-–+&/,]|to|bis|and|und|et|y|e|en|à)\s*\d{1,3}(?!\d|\s*(?:v|db|hz)))*)",
    re.IGNORECASE,
)
CHANNEL_LETTER = re.compile(
    r"\b(?:ch(?:an(?:nel)?)?|kan(?:al)?|voie|canale?|kanaal)\.?\s+(?-i:([A-D]))\b", re.IGNORECASE
)
GAIN = re.compile(
    r"(?:\b(?:over|above|from|past|ab|[üu]ber|(?:au[- ]?)?dessus de|[àa] partir de|m[áa]s de|encima de|"
    r"a partir de|oltre|sopra|da|boven|vanaf)|>)\s*\+?(\d{1,2})\s?dB\b",
    re.IGNORECASE,
)
SIDE = re.compile(
    r"\b(?:(left|li|links|linker?|gauche|izquierd[oa]|sinistr[oa]|linkse?|L)|(right|re|rechts|rechter?|droite?|derech[oa]|"
    r"destr[oa]|rechtse?|R))\b\.?(?=\s*(?:ch|kan|voie|can|side|out|meter|seite|c[oô]t|ear|driver))"
    r"|\b(?:ch|kan\w*|voie|canal\w*|side|c[oô]t[eé])\s+(?:(left|links|gauche|izquierd[oa]|sinistr[oa]|L)|"
    r"(right|rechts|droite?|derech[oa]|destr[oa]|R))\b",
    re.IGNORECASE,
)
PART = re.compile(
    r"\b(psu|supply|netzteil|alimentation|alimentaci[oó]n|fuente|alimentatore|voeding|capsule?|kapsel|c[aá]psula|"
    r"capsula|meter|vu|pad|jack|socket|output|led|lamp|fader|pot|switch|omni|cardioid|figure of 8|cable|lead|kabel)\b",
    re.IGNORECASE,
)
COUNTED = re.compile(
    r"^\s*(?:one|two|three|ein[es]?|zwei|drei|une?|deux|trois|dos|tres|due|tre|een|twee|drie|\d{1,2})\b(?!\s*(?:v\b|db|hz|ohm|m\b))",
    re.IGNORECASE,
)
SHORTENED = [
    "kan",
    "nr",
    "no",
    "li",
    "re",
    "ch",
    "can",
    "ca",
    "rep",
    "inv",
    "ser",
    "hr",
    "fr",
    "mr",
    "env",
    "st",
]
STOP = "".join(rf"(?<!\b{word})" for word in SHORTENED) + r"\.(?=\s|$)"
CUT = re.compile(
    rf"[;\n!]+|{STOP}|,(?!\s*\d)|\s[-–—]\s(?=\w)|,(?=\s*\d+[-\s]*(?:pin|pol|[x×]\s))", re.IGNORECASE
)
PAST = re.compile(r"\b(?:was|were|had|war|[ée]tait|era|estaba)\b", re.IGNORECASE)
NOTHING = r"\b(?:no|kein\w*|ohne|sans|pas de|aucun\w*|sin|senza|nessun\w*|geen|never any)\s+(?:\w+\s+)?"


class State(StrEnum):
    """How bad, in the house's words."""

    LIMITED = "usable with limits"
    SUSPECTED = "suspected, watch it"
    OUT = "out, still here"
    AWAY = "away"
    MISSING = "missing"
    RETIRED = "retired"
    REMARK = "fine, with a remark"


STATE_OF = {
    "dead": State.OUT,
    "no_phantom": State.LIMITED,
    "noisy": State.SUSPECTED,
    "crackles": State.SUSPECTED,
    "pad_stuck": State.LIMITED,
    "other": State.SUSPECTED,
    "away": State.AWAY,
    "retired": State.RETIRED,
    "missing": State.MISSING,
    "lent": State.AWAY,
}
GONE = {
    "missing",
    "fehlt",
    "manque",
    "manquant",
    "falta",
    "manca",
    "ontbreekt",
    "mist",
    "weg",
}  # and nothing else
FIRST_LOOKED_FOR = ["lent", "away", "retired", "missing", "pad_stuck", "crackles", "noisy", "dead", "other"]


@dataclass(frozen=True, slots=True)
class Remark:
    """One fault as a cell tells it. channels empty: the whole unit, or the part named. some: of several, not which."""

    words: str
    effect: str
    state: State
    channels: tuple[int, ...] = ()
    part: str = ""
    some: bool = False
    above_gain_db: float | None = None

    @property
    def where(self) -> str:
        """The channels or the part, in words."""
        if self.channels:
            return ("channel " if len(self.channels) == 1 else "channels ") + ", ".join(
                map(str, self.channels)
            )
        return self.part or "the whole unit"


@dataclass(frozen=True, slots=True)
class Read:
    """What a cell says. ban, needs: of phantom, for the unit; doubt: a clause that can mean either."""

    faults: tuple[Remark, ...] = ()
    ban: bool = False
    needs: bool = False
    doubt: str = ""


def read_remarks(text: str, kind: str) -> Read:
    """kind: of the thing, empty if not known."""
    faults: list[Remark] = []
    ban, needs, doubt = False, False, ""
    for clause in filter(None, (part.strip(" \t-–—") for part in CUT.split(text))):
        said = phantom(clause, kind, bool(channels_in(clause)))
        if said == "fault":
            faults.append(Remark(clause, "no_phantom", STATE_OF["no_phantom"], channels_in(clause)))
            continue
        ban, doubt = ban or said == "ban", clause if said == "doubt" else doubt
        needs = needs or bool(not said and NEEDS.search(clause))
        if remark := read_fault(BAN.sub(" ", clause) if said == "ban" else clause):
            faults = _joined(faults, remark)
        elif faults and faults[-1].effect == "noisy" and gain_in(clause) is not None:
            faults[-1] = read_noise(f"{faults[-1].words}, {clause}", faults[-1])
    return Read(tuple(faults), ban, needs and not ban, doubt)


def _joined(faults: list[Remark], remark: Remark) -> list[Remark]:
    """“2 cut – bin” and “broken – at the mender's” are one fault each: the second half says what became of it."""
    last = faults[-1] if faults else None
    fate = remark.state in {State.RETIRED, State.AWAY} and not remark.channels and not remark.part
    if last and fate and last.state is not remark.state and not last.channels:
        joined = Remark(f"{last.words} – {remark.words}", last.effect, remark.state, (), last.part, last.some)
        return [*faults[:-1], joined]
    return [*faults, remark]


def phantom(clause: str, kind: str, has_channel: bool) -> str:
    """“ban”, “fault”, “doubt”, or empty where phantom isn't denied."""
    if LACKING.search(clause) and (has_channel or kind in GIVES_PHANTOM):
        return "fault"
    if not BAN.search(clause):
        asks = re.search(PHANTOM, clause, re.IGNORECASE) and "?" in clause
        return "doubt" if asks else ""
    if has_channel or kind in GIVES_PHANTOM:
        return "fault"
    shouted = found_in(clause, {"never", "jamais", "nunca", "nie", "niemals", "mai", "nooit", "not", "don t"})
    return "ban" if kind in {"microphone", "di"} or shouted else "doubt"


def read_fault(clause: str) -> Remark | None:
    """What one clause complains of; None where it complains of nothing."""
    effect = effect_of(clause)
    if not effect:
        return None
    part = PART.search(clause)
    side = SIDE.search(clause)
    state = STATE_OF[effect]
    if found_in(clause, {"dented", "cosmetic", "scratched"}):
        state = State.REMARK
    remark = Remark(
        clause,
        effect,
        state,
        channels_in(clause),
        _side(side) or (part[0] if part else ""),
        bool(COUNTED.match(clause)),
    )
    return read_noise(clause, remark) if effect == "noisy" else remark


def read_noise(clause: str, remark: Remark) -> Remark:
    """Noise that begins at a gain is a limit; below it the thing is fine."""
    if (gain := gain_in(clause)) is None:
        return replace(remark, words=clause)
    return replace(remark, words=clause, state=State.LIMITED, above_gain_db=gain)


def gain_in(text: str) -> float | None:
    """The gain in dB above which something is said to happen."""
    found = GAIN.search(text)
    return float(found[1]) if found else None


def _side(match: re.Match[str] | None) -> str:
    return "" if match is None else "left" if match[1] or match[3] else "right"


def effect_of(clause: str) -> str:
    """The effect that the clause names, or empty. What is mended, denied or fine is none."""
    text = re.sub(
        NOTHING + r"(?:hum|noise|buzz|brumm\w*|rausch\w*|bruit|ruido|rumore|ruis|problem\w*|fault\w*|fehler)",
        " ",
        fold(clause),
    )
    if text.strip() in GONE:
        return "missing"
    effect = next((name for name in FIRST_LOOKED_FOR if found_in(text, _said(name))), "")
    if not effect:
        return ""
    past = found_in(text, words("mended")) and effect in {"noisy", "crackles", "dead", "other", "pad_stuck"}
    fine = effect == "other" and found_in(text, {"ok", "fine", "i o", "in ordnung"})
    return "" if past or fine or PAST.search(clause) else effect


@cache
def _said(effect: str) -> frozenset[str]:
    return words(f"fault.{effect}")


def channels_in(text: str) -> tuple[int, ...]:
    """The channels that a remark names: “ch 4”, “Kan. 5-8”, “voies 2 et 3”."""
    found: list[int] = []
    for match in CHANNEL.finditer(text):
        found += numbers_in(match[1])
    found += ["ABCD".index(match[1]) + 1 for match in CHANNEL_LETTER.finditer(text)]
    return tuple(dict.fromkeys(found))


def numbers_in(text: str) -> list[int]:
    """“1-4” is 1, 2, 3, 4; “9,10” and “2 & 6” are two each."""
    found: list[int] = []
    for first, last in re.findall(r"(\d{1,3})(?:\s*(?:-|–|to|bis|à)\s*(\d{1,3}))?", text):
        low, high = int(first), int(last or first)
        found += range(low, high + 1) if low <= high < low + 129 else [low, high]
    return found


def is_fine(cell: str) -> bool:
    return fold(cell) in words("fine") or not re.search(r"\w", cell)


def names_one_of(text: str, names: Iterable[str]) -> list[str]:
    """Which of these tags or serials the remark names, as a word of its own."""
    lowered = text.casefold()
    return [name for name in names if len(name) > 1 and _stands_in(name.casefold(), lowered)]


def _stands_in(name: str, text: str) -> bool:
    """Between letters and figures of other words it is another word: “12” isn't in “112”."""
    place = text.find(name)
    while place >= 0:
        around = text[place - 1 : place] + text[place + len(name) : place + len(name) + 1]
        if not any(char.isalnum() or char == "_" for char in around):
            return True
        place = text.find(name, place + 1)
    return False


def section_says(text: str) -> str:
    """retired, not_ours, faulty, missing, or empty: what a heading over rows says of them."""
    groups = data("words")["section"]
    return next((name for name in groups if found_in(text, words(f"section.{name}"))), "")
