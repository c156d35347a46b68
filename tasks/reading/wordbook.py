"""Everything the reader can look up: the catalogue's aliases and the small words around them."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from itertools import pairwise
from pathlib import Path

from rapidfuzz import process
from rapidfuzz.distance import OSA

from tasks.catalogue import Alias, Catalogue, Source
from tasks.reading.text import JOINTS, Token, counts, key_of, spaced_key, tokens_of, umlaut_variants

WORDS = Path(__file__).parent / "data" / "words.toml"
LONGEST = 9
LETTER = "letter"
SHORT_ENDING = 4
DIMINUTIVES = ("etje", "tje", "pje", "je")
PLURAL_IN_S = ("en", "fr", "es")
LINKS = ("", "s", "n", "en", "es", "er")
COMPOUND_HEADS = frozenset({"mic", "amp", "di", "thing", "person", "channels"})


@dataclass(frozen=True, slots=True)
class Hit:
    """A source that a word may mean. weak: only believed where others of its family stand in the list."""

    source: Source
    plural: bool
    weak: bool
    language: str


@dataclass(slots=True)
class Entry:
    """What one key means: sources, kinds of small word, a number, a register (alto), an adjective (electric)."""

    hits: list[Hit] = field(default_factory=list)
    kinds: set[str] = field(default_factory=set)
    number: int | None = None
    register: str = ""
    adjective: str = ""
    spaced: set[str] = field(default_factory=set)


class Wordbook:
    """Looks up the longest known phrase at a token."""

    def __init__(self, entries: dict[str, Entry]) -> None:
        self.entries = entries
        self.prefixes = {key[:length] for key in entries for length in range(1, len(key) + 1)}
        self._by_length: dict[int, list[str]] = {}
        for key, entry in entries.items():
            if len(key) >= 4 and any(not hit.weak for hit in entry.hits):
                self._by_length.setdefault(len(key), []).append(key)
        self.source_keys = [key for keys in self._by_length.values() for key in keys]
        self.closest = lru_cache(maxsize=4096)(self._closest)
        self.compound = lru_cache(maxsize=4096)(self._compound)

    def longest(self, tokens: Sequence[Token], at: int) -> tuple[int, Entry] | None:
        """The token after the longest known phrase that begins at a token, and what the phrase means."""
        key, best, parts, at_end = "", None, [], min(len(tokens), at + 2 * LONGEST)
        for index in range(at, at_end):
            token = tokens[index]
            if index > at and not _joined(tokens[index - 1], token):
                break
            if not counts(token):
                if token.raw not in JOINTS or index == at or _stands_apart(tokens, index):
                    break
                continue
            key += token.key
            parts.append(index)
            if key not in self.prefixes:
                break
            entry = self.entries.get(key)
            if entry is not None and _well_spaced(tokens, parts, entry):
                best = (index + 1, entry)
        return best

    def _compound(self, key: str) -> tuple[int, Entry, Entry] | None:
        """Splits a compound word: (length of the front part, what it means, what the rest means)."""
        for cut in range(len(key) - 3, 2, -1):
            tail = self.entries.get(key[cut:])
            if tail is None or not (tail.kinds & COMPOUND_HEADS):
                continue
            for link in LINKS:
                front = self.entries.get(key[: cut - len(link)]) if key[:cut].endswith(link) else None
                if front is not None and front.hits and cut - len(link) >= 3:
                    return cut, front, tail
        return None

    def ending(self, key: str) -> Entry | None:
        """A German or Dutch compound whose last part is a source ("Jazzgitarre"), or a Dutch diminutive ("koortje")."""
        small = next((self.entries.get(key[: -len(end)]) for end in DIMINUTIVES if key.endswith(end)), None)
        if small is not None and any(hit.language == "nl" and not hit.weak for hit in small.hits):
            return Entry(hits=[hit for hit in small.hits if hit.language == "nl" and not hit.weak])
        for cut in range(2, len(key) - 3):
            entry = self.entries.get(key[cut:])
            if entry is None:
                continue
            long = len(key) - cut > SHORT_ENDING
            hits = [
                hit
                for hit in entry.hits
                if hit.language in ("de", "nl") and not hit.weak and (long or hit.source.family == "choir")
            ]
            if hits:
                return Entry(hits=hits)
        return None

    def _closest(self, key: str) -> tuple[tuple[str, float], ...]:
        """Up to five keys of sources that are nearest to a misspelt one, with their edit distances."""
        reach = 1 if len(key) < 8 else 2
        near = [
            k
            for length in range(len(key) - reach, len(key) + reach + 1)
            for k in self._by_length.get(length, ())
        ]
        found = process.extract(key, near, scorer=OSA.distance, score_cutoff=reach, limit=5)
        return tuple((str(name), float(distance)) for name, distance, _ in found)


def _joined(left: Token, right: Token) -> bool:
    return right.start - left.end <= 1


def _stands_apart(tokens: Sequence[Token], at: int) -> bool:
    """A dash with a blank on either side parts words ("kick - boundary"); one that touches joins them."""
    before, after = tokens[at - 1], tokens[at + 1] if at + 1 < len(tokens) else None
    return before.end < tokens[at].start and (after is None or tokens[at].end < after.start)


def _well_spaced(tokens: Sequence[Token], parts: Sequence[int], entry: Entry) -> bool:
    """Short scraps may only be read together ("o h" as "oh") where the phrase itself is written apart."""
    if len(parts) == 1:
        return True
    words = [tokens[index] for index in parts]
    apart = any(right.start > left.end for left, right in pairwise(words))
    if not apart or all(len(word.key) >= 3 for word in words):
        return True
    return " ".join(word.key for word in words) in entry.spaced


@cache
def _small_words() -> dict[str, Entry]:
    data = tomllib.loads(WORDS.read_text(encoding="utf-8"))
    entries: dict[str, Entry] = {}
    for word, number in data.pop("number").items():
        _entry(entries, word).number = number
    for word, register in data.pop("register").items():
        _entry(entries, word).register = register
    for word, adjective in data.pop("adjective").items():
        _entry(entries, word).adjective = adjective
    for kind, words in data.items():
        for word in words:
            for variant in umlaut_variants(word):
                if key_of(variant):
                    _entry(entries, variant).kinds.add(kind)
    return entries


def _entry(entries: dict[str, Entry], phrase: str) -> Entry:
    entry = entries.setdefault(key_of(phrase), Entry())
    entry.spaced.add(spaced_key(phrase))
    return entry


def _copy(entries: Mapping[str, Entry]) -> dict[str, Entry]:
    return {
        key: replace(entry, hits=list(entry.hits), kinds=set(entry.kinds), spaced=set(entry.spaced))
        for key, entry in entries.items()
    }


def _add_source(entries: dict[str, Entry], phrase: str, hit: Hit) -> None:
    for variant in umlaut_variants(phrase):
        if key_of(variant):
            entry = _entry(entries, variant)
            if (hit.source.id, hit.plural) not in {(other.source.id, other.plural) for other in entry.hits}:
                entry.hits.append(hit)


def _guessed_plurals(alias: Alias) -> Iterable[str]:
    if alias.plural or alias.language not in PLURAL_IN_S or len(alias.text) < 2:
        return
    words = alias.text.split()
    if not words[-1].endswith("s"):
        yield alias.text + ("es" if words[-1].endswith(("x", "ch", "sh")) else "s")
    if alias.language != "en" and len(words) == 2 and not any(word.endswith("s") for word in words):
        yield f"{words[0]}s {words[1]}s"
        yield f"{words[0]}s {words[1]}"
        if alias.language == "es":
            yield f"{words[0]}s {words[1]}es"


@lru_cache(maxsize=4)
def wordbook_for(catalogue: Catalogue, house_aliases: tuple[tuple[str, str], ...] = ()) -> Wordbook:
    """The wordbook of a catalogue and a house's own words (word, source id). Kept: a form asks at each pause."""
    entries = _copy(_small_words())
    for word, source_id in house_aliases:
        if source_id in catalogue.by_id and key_of(word):
            _entry(entries, word).hits[:] = [Hit(catalogue[source_id], False, False, "house")]
            _entry(entries, word).kinds.clear()
    pairs = [(source, alias) for source in catalogue.sources for alias in source.aliases]
    for source, alias in pairs:
        text = alias.text.removeprefix("~")
        if not _is_house_word(entries, text):
            _add_source(entries, text, Hit(source, alias.plural, alias.text.startswith("~"), alias.language))
    explicit = {key for key, entry in entries.items() if entry.hits}
    for source, alias in pairs:
        for plural in _guessed_plurals(alias):
            if key_of(plural) not in explicit:
                weak = alias.text.startswith("~")
                _add_source(entries, plural.removeprefix("~"), Hit(source, True, weak, alias.language))
    return Wordbook(entries)


def _is_house_word(entries: Mapping[str, Entry], text: str) -> bool:
    entry = entries.get(key_of(text))
    return entry is not None and any(hit.language == "house" for hit in entry.hits)


def words_in(phrase: str) -> list[str]:
    """The folded words of a phrase, for suggestions."""
    return [token.key for token in tokens_of(phrase, 0, len(phrase)) if token.is_word]
