"""What a list asks of a room: places for players, lines, and instruments that the house may have standing there."""

from __future__ import annotations

from functools import lru_cache

from bookings.lists import Asked, reads_lists
from tasks.catalogue import load_catalogue
from tasks.catalogue.needs import needs
from tasks.reading import ReadSource
from tasks.words.reading import Words, read_here, words_here

ONE_PLAYER = {"drum kit", "percussion"}
NOBODY = {"electronics/playback", "talkback/utility", "ambience/room"}
LONGEST_LIST = 20_000


@reads_lists
def asked(text: str) -> Asked:
    """Whoever plays the pieces of a kit is counted once; a section counts its players."""
    return _asked(text[:LONGEST_LIST], words_here())


@lru_cache(maxsize=64)
def _asked(text: str, words: Words) -> Asked:
    catalogue = load_catalogue()
    sources = read_here(text, words).sources
    return Asked(
        players=_players(sources),
        inputs=len(needs(sources, catalogue)),
        instruments=tuple(dict.fromkeys(each.source for each in sources)),
    )


def _players(sources: tuple[ReadSource, ...]) -> int:
    """At least: an entry without a number is one player."""
    kits = {each.family for each in sources} & ONE_PLAYER
    others = [each for each in sources if each.family not in ONE_PLAYER | NOBODY]
    return len(kits) + sum(each.count or 1 for each in others)
