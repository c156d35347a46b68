"""The words that lists use for their columns: how a heading is compared, and the field that each is known for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache, lru_cache

from studio.importing.words import data, fold

INVENTORY, LOG = "inventory", "log"
IGNORED = "ignore"
JOINING = {"de", "d", "del", "di", "da", "du", "des", "von", "van", "of", "the", "la", "le", "l", "el"}
BEHIND_A_PRICE = {
    "eur", "euro", "euros", "chf", "gbp", "usd", "dm", "ttc", "ht", "htva", "net", "netto", "brutto", "gross",
    "inkl", "incl", "zzgl", "excl", "mwst", "btw", "iva", "vat", "inc", "ex", "c", "s",
}  # fmt: skip


@cache
def known(sort: str) -> dict[str, str]:
    """Folded heading to field, for an inventory or a log."""
    return {fold(word): field for field, words in data("headings")[sort].items() for word in words}


@cache
def _known_bare(sort: str) -> dict[str, str]:
    return {_bare(word): field for word, field in known(sort).items()}


@cache
def fields(sort: str) -> list[str]:
    return [*data("headings")[sort], "other", IGNORED]


def field_name(field: str) -> str:
    """A field as people are shown it."""
    return str(data("headings")["names"].get(field, field))


def normal(heading: str) -> str:
    """How a heading is remembered: “Item #” is the number of an item, not the item."""
    return fold(re.sub(r"\s*#\s*$", " no", heading))


def words_known(cells: Sequence[str]) -> int:
    """How many of these cells are known headings, word for word."""
    return len(
        {fold(cell) for cell in cells if 0 < len(cell) < 50} & (known(INVENTORY).keys() | known(LOG).keys())
    )


@lru_cache(maxsize=8192)
def is_known(cell: str) -> bool:
    """Whether this is a heading of any list, word for word or without what is often added."""
    forms = {normal(cell), fold(cell), _without_tail(fold(cell))}
    return any(
        forms & known(sort).keys() or {_bare(form) for form in forms} & _known_bare(sort).keys()
        for sort in (INVENTORY, LOG)
    )


def known_field(heading: str, sort: str) -> str:
    """The field that this heading is known for, as it stands or without what is often added; empty if it isn't."""
    forms = [normal(heading), fold(heading.split("(")[0])]
    if not names_maker_and_model(heading, sort):
        forms.append(fold(heading.split("/")[0]))
    forms += [shorter for form in forms if (shorter := _without_tail(form)) != form]
    if exact := next((known(sort)[form] for form in forms if form in known(sort)), ""):
        return exact
    return next((_known_bare(sort)[bare] for form in forms if (bare := _bare(form)) in _known_bare(sort)), "")


def names_maker_and_model(heading: str, sort: str) -> bool:
    return {"maker", "model"} <= {known(sort).get(fold(part)) for part in heading.split("/")}


def _without_tail(form: str) -> str:
    """“prix ttc” is “prix”: currencies and taxes behind a word say nothing of which column it is."""
    words = form.split()
    while len(words) > 1 and words[-1] in BEHIND_A_PRICE:
        words.pop()
    return " ".join(words)


def _bare(form: str) -> str:
    """“fecha de compra” is “fecha compra”."""
    return " ".join(word for word in form.split() if word not in JOINING) or form
