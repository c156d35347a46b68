"""Reading a list as this house reads it: the catalogue with the house's own words."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from tasks.catalogue import load_catalogue
from tasks.models import HouseWord
from tasks.reading import NotInput, Question, Reading, ReadSource, read
from tasks.reading.text import key_of

BEFORE = re.compile(
    r"^[\s–—•*-]*(?:\(?\d{1,3}\s?[x×*]?\)?[.):]?\s+|\(?\d{1,3}\s?[x×*]\)?\s*|[x×]\s?\d+\s+)*", re.IGNORECASE
)
BEHIND = re.compile(r"(?:\s+[x×*]\s?\d+|\s*\(\s*[x×]?\s*\d+\s*[x×]?\s*\)|[\s,;:.]+)+$", re.IGNORECASE)
NO_INPUT = "the house takes it for no input"


@dataclass(frozen=True, slots=True)
class Words:
    """aliases: words with the id of a source. no_inputs: keys of what brings no channel here."""

    aliases: tuple[tuple[str, str], ...] = ()
    no_inputs: frozenset[str] = frozenset()


def words_here() -> Words:
    """One query."""
    rows = list(HouseWord.objects.order_by("words").values_list("words", "key", "source"))
    return Words(
        tuple((words, source) for words, _, source in rows if source),
        frozenset(key for _, key, source in rows if not source),
    )


def read_here(text: str, words: Words | None = None) -> Reading:
    """As tasks.reading.read, with what the house has taught it."""
    words = words_here() if words is None else words
    reading = read(text, load_catalogue(), dict(words.aliases))
    if not words.no_inputs:
        return reading
    read_things: list[ReadSource | Question] = [*reading.sources, *reading.questions]
    left_out = [e for e in read_things if key_of(without_number(e.as_written)) in words.no_inputs]
    none = {each.start for each in left_out}
    stated = [*reading.not_inputs, *(NotInput(each.start, each.as_written, NO_INPUT) for each in left_out)]
    return replace(
        reading,
        sources=tuple(each for each in reading.sources if each.start not in none),
        questions=tuple(each for each in reading.questions if each.start not in none),
        not_inputs=tuple(sorted(stated, key=lambda each: each.start)),
    )


def without_number(written: str) -> str:
    """The words of an entry without what numbers it: “2x ac gtr”, “ac gtr (2)” and “3) ac gtr” are all “ac gtr”."""
    return BEHIND.sub("", BEFORE.sub("", written)).strip()
