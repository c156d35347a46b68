"""Channel sheets of single letters: "K, S, H, OL, OR, B, GL, GR, V", one to a row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tasks.catalogue import Catalogue
from tasks.reading.items import Item
from tasks.reading.layout import Row
from tasks.reading.wordbook import LETTER, Hit

MEANING = {
    "k": "kick", "s": "snare", "h": "hihat", "t": "tom", "f": "tom_floor", "o": "overheads", "b": "bass_guitar",
    "g": "electric_guitar", "v": "vocal",
}  # fmt: skip
SIDES = {"l": "left", "r": "right"}
FEWEST = 3


def spell_out(rows: Sequence[Row], catalogue: Catalogue) -> None:
    """Reads single letters as names where a kick, a snare and at least one more stand so, each in a numbered row."""
    single = [row for row in rows if row.numbered and len(row.words) == 1 and _letters(row.words[0])]
    alone = {row.words[0].key for row in single if len(row.words[0].key) == 1}
    if not {"k", "s"} <= alone or len(single) < FEWEST:
        return
    for row in single:
        row.items = _named(row.words[0], catalogue)


def _letters(item: Item) -> bool:
    key = item.key
    known = len(item.raw) <= 2 and item.raw.isupper() and key[:1] in MEANING and not item.hits
    return known and (len(key) == 1 or key[1] in SIDES)


def _named(item: Item, catalogue: Catalogue) -> list[Item]:
    cut = item.start + 1
    hit = Hit(catalogue[MEANING[item.key[0]]], False, False, LETTER)
    name = replace(item, end=cut, raw=item.raw[0], key=item.key[0], kinds=frozenset(), hits=(hit,))
    if len(item.key) == 1:
        return [name]
    side = frozenset({SIDES[item.key[1]]})
    return [name, Item(cut, item.end, item.raw[1], item.key[1], side)]
