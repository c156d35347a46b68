"""Finding units and counted stock by what people type: the house's words, kept in memory by each process.

A query is matched against the words (studio.gear.index), and only what is shown is read from the database.
"""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from copy import copy
from itertools import chain
from typing import Any, Generic, NamedTuple, TypeVar

from django.db import connection, transaction
from django.db.models import Model
from django.db.models.signals import post_delete, post_save

from studio.gear.index import FOUND_AT_MOST, OF_REMARK, OF_THING, Entry, Hit, Index, Said, found_in
from studio.gear.shelf import set_of
from studio.gear.words import PEOPLES_WORDS
from studio.models import (
    CableSpec,
    DirectBoxSpec,
    GearModel,
    GearUnit,
    ListeningSpec,
    LookupStamp,
    MainsSpec,
    MicrophoneSpec,
    Room,
    Site,
    Stock,
)

__all__ = ["Hit", "find", "find_stock", "found"]

KEPT_SECONDS = 300
FEW = 2000
"""So many units may have changed before the whole index is made anew."""
T = TypeVar("T")
ModelTexts = tuple[tuple[int, str], ...]
SAYING = {
    *(GearUnit, Stock, GearModel, Room, Site),
    *(MicrophoneSpec, DirectBoxSpec, ListeningSpec, MainsSpec, CableSpec),
}
"""What the words are taken from."""


def find(query: str, most: int = FOUND_AT_MOST) -> list[Hit]:
    """Units and channels that the query may mean, best first. A constant number of queries."""
    return found(query, most)[0]


def found(query: str, most: int) -> tuple[list[Hit], int]:
    """The best of them, and how many there are. One query, and three more when something has changed."""
    return _units.get().found(query, most)


def find_stock(query: str, most: int = FOUND_AT_MOST) -> list[Hit]:
    """Counted stock that the query may mean, best first; a hit's tag is its name."""
    return _stock.get().find(query, most)


class Saying:
    """Texts with the positions of those that say them: what many things have in common is split into words once."""

    def __init__(self) -> None:
        self.positions: dict[tuple[int, str], list[int]] = defaultdict(list)

    def add(self, position: int, weight: int, *texts: str) -> None:
        for text in filter(None, texts):
            self.positions[weight, text].append(position)

    def said(self) -> Iterator[Said]:
        return ((weight, text, positions) for (weight, text), positions in self.positions.items())


def units_index() -> Index:
    """The index of the units that the database holds now. Two queries."""
    return _index_of(_rows_now().items())


def _index_of(rows: Iterable[tuple[int, Row]]) -> Index:
    of_model: dict[ModelTexts, list[int]] = defaultdict(list)
    saying, entries = Saying(), []
    for position, (pk, row) in enumerate(sorted(rows, key=lambda each: each[1].tag)):
        entries.append(Entry(pk, row.tag, row.channels))
        of_model[row.model].append(position)
        saying.add(position, OF_REMARK, row.remark)
        saying.add(position, OF_THING, *row.texts)
    of_models = ((weight, text, at) for texts, at in of_model.items() for weight, text in texts)
    return Index(entries, chain(saying.said(), of_models))


class Row(NamedTuple):
    """What a unit says; a room stands for its site."""

    tag: str
    channels: int
    model: ModelTexts
    remark: str
    texts: tuple[str, ...]


def _rows_now() -> dict[int, Row]:
    """What came with a model that came just now is left to the next time. Two queries."""
    models = {
        model.pk: (model.channels, tuple(_model_texts(model)))
        for model in GearModel.objects.select_related("microphone", "direct_box", "listening", "mains")
    }
    rows = GearUnit.objects.order_by().values_list(
        "pk",
        "tag",
        "gear_model_id",
        "remark",
        "home_room__name",
        "site__name",
        "serial",
        "owner",
        "matched",
        "storage",
    )
    return {
        pk: Row(tag, *models[model], remark, (room or site, *texts))
        for pk, tag, model, remark, room, site, *texts in rows.iterator(chunk_size=2000)
        if model in models
    }


class Units:
    """The index of the units at some time, and one of the few that have changed since: to read all rows anew and see
    which differ takes a fifteenth of the time that a whole index takes."""

    def __init__(self) -> None:
        self.rows: dict[int, Row] = {}
        self.whole, self.since, self.hidden = Index([], []), Index([], []), 0

    def renew(self) -> None:
        rows = _rows_now()
        changed = [(pk, row) for pk, row in rows.items() if self.rows.get(pk) != row]
        if len(changed) > FEW or (changed and not self.rows):
            self.rows, self.whole, self.since, self.hidden = rows, _index_of(rows.items()), Index([], []), 0
            return
        gone = {pk for pk, _ in changed} | (self.rows.keys() - rows.keys())
        entries = self.whole.entries
        self.hidden = set_of((at for at, entry in enumerate(entries) if entry.pk in gone), len(entries))
        self.since = _index_of(changed)

    def found(self, query: str, most: int) -> tuple[list[Hit], int]:
        return found_in([(self.whole, self.hidden), (self.since, 0)], query, most)


def _model_texts(model: GearModel) -> Iterator[tuple[int, str]]:
    yield OF_REMARK, model.remark
    texts = [model.maker, model.name, model.get_kind_display(), PEOPLES_WORDS.get(model.kind, "")]
    if spec := getattr(model, "microphone", None):
        texts += [spec.get_transducer_display(), PEOPLES_WORDS.get(spec.transducer, ""), spec.patterns]
    if spec := getattr(model, "direct_box", None):
        texts.append("active" if spec.active else "passive")
    if (spec := getattr(model, "listening", None)) and model.kind == GearModel.Kind.HEADPHONES:
        texts.append("closed" if spec.closed else "open")
    if (spec := getattr(model, "mains", None)) and spec.valves:
        texts.append("valve tube")
    yield from ((OF_THING, text) for text in texts)


def stock_index() -> Index:
    """The index of all that is counted. One query."""
    saying, entries = Saying(), []
    stocks = Stock.objects.select_related("site", "cable").order_by("name", "site")
    for position, stock in enumerate(stocks):
        entries.append(Entry(stock.pk, stock.name))
        saying.add(position, OF_REMARK, stock.remark)
        saying.add(position, OF_THING, *_stock_texts(stock))
    return Index(entries, saying.said())


def _stock_texts(stock: Stock) -> Iterator[str]:
    yield from [stock.get_kind_display(), PEOPLES_WORDS.get(stock.kind, ""), stock.site.name, stock.storage]
    if spec := getattr(stock, "cable", None):
        yield spec.ends
        yield f"{spec.length_m:g} m {spec.length_m:g}m" if spec.length_m else ""


class _Kept(Generic[T]):
    """What this process keeps: renewed when something changed, and after KEPT_SECONDS in any case.

    What was changed past its model (in bulk, by hand) is noticed by then; what is shown of a thing is always
    read from the database.
    """

    def __init__(self, model: type[Model], kept: T, renew: Callable[[T], T]) -> None:
        self.kept, self.renew = kept, renew
        self.stamp: tuple[Any, ...] = ()
        self.until = 0.0
        self.now = f"SELECT (SELECT stamp FROM studio_lookupstamp), MAX(id) FROM {model._meta.db_table}"  # noqa: S608

    def get(self) -> T:
        stamp = self._stamp()
        if stamp != self.stamp or time.monotonic() > self.until:
            self.kept, self.stamp = self.renew(self.kept), stamp
            self.until = time.monotonic() + KEPT_SECONDS
        return self.kept

    def _stamp(self) -> tuple[Any, ...]:
        """Asked by hand, since it is asked at every key press."""
        with connection.cursor() as cursor:
            cursor.execute(self.now)
            return (connection.settings_dict["NAME"], *(cursor.fetchone() or ()))

    def forget(self) -> None:
        self.stamp = ()


def _renewed(units: Units) -> Units:
    """A new one, so that whoever is searching in another thread is not disturbed."""
    new = copy(units)
    new.renew()
    return new


_units = _Kept(GearUnit, Units(), _renewed)
_stock = _Kept(Stock, Index([], []), lambda _: stock_index())


def _changed(sender: type[Model], **kwargs: Any) -> None:
    """This process forgets at once; the others hear of it when it is committed, once a transaction."""
    _units.forget()
    _stock.forget()
    if LookupStamp.renew not in [run for _, run, *_ in connection.run_on_commit]:
        transaction.on_commit(LookupStamp.renew)


for model in SAYING:
    for signal in (post_save, post_delete):
        signal.connect(_changed, sender=model, dispatch_uid=f"studio.index_{model.__name__}")
