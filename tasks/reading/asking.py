"""Misspelt and unknown words: a safe guess is taken, a doubtful one is asked."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import replace

from rapidfuzz import fuzz, process

from tasks.reading.items import Item
from tasks.reading.layout import Row
from tasks.reading.text import key_of
from tasks.reading.wordbook import Wordbook

SHORTEST = 5
SAFE_LENGTH = 6


def with_guesses(row: Row, wordbook: Wordbook, languages: Container[str]) -> list[Item]:
    """The row's items, with misspelt sources taken for what they must mean. Only in rows that are a list.

    languages: those that the rest of the text is written in; a guess in another one is left to be asked.
    """
    strange = [item for item in row.items if item.unknown]
    if not strange or row.header or row.ruler:
        return row.items
    words = [item for item in row.items if not item.symbol]
    talk = sum(1 for item in words if item.is_("remark", "greeting"))
    if talk > 1 or (len(strange) > 3 and len(strange) * 2 > len(words)):
        return row.items
    return [_guessed(item, wordbook, languages) if item.unknown else item for item in row.items]


def _guessed(item: Item, wordbook: Wordbook, languages: Container[str]) -> Item:
    key = item.key
    if len(key) < SHORTEST or len(key) > 24 or not key.isalpha():
        return item
    near = wordbook.closest(key)
    if not near:
        return item
    best = near[0][1]
    names = [name for name, distance in near if distance == best and name[0] in key[:2]]
    if not names:
        return item
    entries = [wordbook.entries[name] for name in names]
    families = {hit.source.family for entry in entries for hit in entry.hits if not hit.weak}
    swapped = len(key) == SHORTEST and any(sorted(key) == sorted(name) for name in names)
    spoken = any(hit.language in languages for entry in entries for hit in entry.hits)
    if not spoken or len(families) != 1 or not (swapped or len(key) >= SAFE_LENGTH):
        return item
    return replace(item, hits=tuple(entries[0].hits))


def suggestions_for(written: str, wordbook: Wordbook, most: int = 3) -> tuple[str, ...]:
    """Names of sources that a piece of text may mean, likeliest first."""
    key = key_of(written)
    if not 2 <= len(key) <= 40:
        return ()
    names = [name for name, _ in wordbook.closest(key)]
    if len(names) < most:
        found = process.extract(key, wordbook.source_keys, scorer=fuzz.ratio, score_cutoff=60, limit=12)
        names += [str(name) for name, _, _ in found]
    seen: dict[str, None] = {}
    for name in names:
        for hit in wordbook.entries[name].hits[:1]:
            seen.setdefault(hit.source.name)
    return tuple(seen)[:most]
