"""Bytes to text: which encoding a file is in, told by its marks, else by which reading makes likelier words."""

from __future__ import annotations

import codecs
import itertools
import re
from dataclasses import dataclass

MARKS = [
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
]
ONE_BYTE = ["cp1252", "mac_roman", "cp850", "cp1250", "cp1251", "cp1253", "koi8_r"]
USUAL = frozenset("äöüßéèêëàâçñíóáúôûîïœøåæãõìòùýąćęłńśźżčřšžěůőű")
SELDOM_FIRST = frozenset("ÿþðŸìîñïëãõûùò")
ALONE = frozenset("àéèóòÀÉÈÓ")
OPENING, CLOSING = frozenset("“„‘«¿¡"), frozenset("”’»")
SIGNS = frozenset("£€§°·«»¿¡µ½¼×“”‘’„‚–—…©®²³±ÄÖÜÉÈÀÇÑÅØÓÍÁ")
SAMPLE = 200_000
MOSTLY = 4
CLOSE = 0.25
WORD = re.compile(r"[^\W\d_]+")


@dataclass(frozen=True, slots=True)
class Decoded:
    """damaged: the bytes that were no text in this encoding, as characters U+FFFD in it."""

    text: str
    encoding: str
    doubt: str = ""


def decode(content: bytes) -> Decoded:
    """Never raises: bytes that can't be read become U+FFFD, which later names the row."""
    for mark, encoding in MARKS:
        if content.startswith(mark):
            return Decoded(content.decode(encoding, "replace").removeprefix("\ufeff"), encoding)
    if wide := _wide(content):
        return Decoded(content.decode(wide, "replace"), wide)
    try:
        return Decoded(content.decode("utf-8"), "utf-8")
    except UnicodeDecodeError:
        return _mostly_utf8(content) or _one_byte(content)


def _wide(content: bytes) -> str:
    """UTF-16 without a mark: its line ends and blanks, read in the right order, stand beside zero bytes."""
    head = content[:4000]
    head = head[: len(head) // 2 * 2]
    if b"\x00" not in head:
        return ""
    plain = {
        encoding: sum(char in "\r\n\t ,;|.0123456789" for char in head.decode(encoding, "replace"))
        for encoding in ("utf-16-le", "utf-16-be")
    }
    best = max(plain, key=lambda encoding: plain[encoding])
    return best if plain[best] > len(head) / 100 else ""


def _mostly_utf8(content: bytes) -> Decoded | None:
    """A file of UTF-8 with a few foreign bytes in it, as happens when lists are pasted together."""
    text = content.decode("utf-8", "replace")
    bad = text.count("\ufffd")
    good = sum(char > "\x7f" for char in text) - bad
    return Decoded(text, "utf-8") if good > MOSTLY * bad else None


def _one_byte(content: bytes) -> Decoded:
    readings = {}
    for encoding in ONE_BYTE:
        try:
            readings[encoding] = content.decode(encoding)
        except UnicodeDecodeError:
            continue
    best, second = sorted(readings, key=lambda name: -likelihood(readings[name], name))[:2]
    close = likelihood(readings[best], best) - likelihood(readings[second], second) < CLOSE
    doubt = f"Read as {best}; {second} would be possible too." if close else ""
    return Decoded(readings[best], best, doubt if readings[best] != readings[second] else "")


def likelihood(text: str, encoding: str) -> float:
    """How much this looks like words and signs that people write. Only comparable between readings of one file."""
    score = -0.1 * ONE_BYTE.index(encoding)
    text = text[:SAMPLE]
    for word in set(WORD.findall(text)):
        if not word.isascii():
            score += _of_word(word)
    for place, char in enumerate(text):
        if char > "\x7f" and not char.isalpha():
            score += _of_sign(text, place)
    return score


def _of_word(word: str) -> float:
    foreign = [char for char in word if char > "\x7f"]
    scripts = {"cyrillic" if "Ѐ" <= c <= "ӿ" else "greek" if "Ͱ" <= c <= "Ͽ" else "latin" for c in word}
    if scripts & {"cyrillic", "greek"}:
        return _of_other_script(word) if len(scripts) == 1 else -4.0
    mixed = any(a.islower() and b.isupper() for a, b in itertools.pairwise(word))
    crowd = len(foreign) > max(2, len(word) / 2)
    odd = sum(char.lower() not in USUAL for char in foreign)
    if len(word) == 1:
        return 0.2 if word in ALONE else -2.0
    return len(foreign) - 2 * odd - 3 * mixed - 4 * crowd - 2 * (word[0].lower() in SELDOM_FIRST)


def _of_other_script(word: str) -> float:
    if len(word) == 1:
        return -1.0
    natural = word.islower() or word.isupper() or (word[0].isupper() and word[1:].islower())
    return len(word) * 0.9 if natural else -4.0


def _of_sign(text: str, place: int) -> float:
    char = text[place]
    if "\x80" <= char <= "\x9f":
        return -6.0
    before, after = text[place - 1 : place], text[place + 1 : place + 2]
    if char == "’" and before.isalpha():
        return 1.5
    if before.isalpha() and after.isalpha():
        return -3.0
    if char in OPENING or char in CLOSING:
        inner, outer = (after, before) if char in OPENING else (before, after)
        return 1.0 if inner.strip() and not outer.isalnum() else -1.0
    return 0.5 if char in SIGNS else -1.0
