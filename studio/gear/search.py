"""Finding units and counted stock by what people type: the house's words, kept in memory by each process.

A query is matched against the words (studio.gear.index), and only what is shown is read from the database.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Any

from django.db import connection, transaction
from django.db.models import Model
from django.db.models.signals import post_delete, post_save

from studio.gear.index import FOUND_AT_MOST, Entry, Hit, Index
from studio.gear.words import PEOPLES_WORDS, joined, pieces
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

__all__ = ["Hit", "find", "find_stock"]

KEPT_SECONDS = 300
SHARED = ("gear_model_id", "home_room__name", "site__name", "storage", "owner", "matched", "remark")
"""What units that are alike have in common; the words of it are kept once for all of them."""

SAYING = {
    *(GearUnit, Stock, GearModel, Room, Site),
    *(MicrophoneSpec, DirectBoxSpec, ListeningSpec, MainsSpec, CableSpec),
}
"""What the words are taken from."""


def find(query: str, most: int = FOUND_AT_MOST) -> list[Hit]:
    """Units and channels that the query may mean, best first. A constant number of queries."""
    return _units.get().find(query, most)


def find_stock(query: str, most: int = FOUND_AT_MOST) -> list[Hit]:
    """Counted stock that the query may mean, best first."""
    return _stock.get().find(query, most)


def units_index() -> Index:
    """The index of the units that the database holds now. Two queries."""
    models = GearModel.objects.select_related("microphone", "direct_box", "listening", "mains")
    said = {model.pk: words_of(*_model_texts(model)) | {joined(model.name)} for model in models}
    rows = GearUnit.objects.order_by("tag").values_list(
        "pk", "tag", "serial", "gear_model__channels", *SHARED
    )
    numbers: dict[tuple[Any, ...], int] = {}
    entries = [
        Entry(pk, tag, serial, channels, numbers.setdefault(tuple(shared), len(numbers)))
        for pk, tag, serial, channels, *shared in rows.iterator(chunk_size=2000)
    ]
    groups = {
        number: said.get(model, set()) | words_of(room or site, *texts)
        for (model, room, site, *texts), number in numbers.items()
    }
    return Index(entries, groups)


def _model_texts(model: GearModel) -> Iterator[str]:
    yield from [model.maker, model.name, model.remark]
    yield from [model.get_kind_display(), PEOPLES_WORDS.get(model.kind, "")]
    if spec := getattr(model, "microphone", None):
        yield from [spec.get_transducer_display(), PEOPLES_WORDS.get(spec.transducer, ""), spec.patterns]
    if spec := getattr(model, "direct_box", None):
        yield "active" if spec.active else "passive"
    if (spec := getattr(model, "listening", None)) and model.kind == GearModel.Kind.HEADPHONES:
        yield "closed" if spec.closed else "open"
    if (spec := getattr(model, "mains", None)) and spec.valves:
        yield "valve tube"


def stock_index() -> Index:
    """The index of all that is counted. One query."""
    stock = list(Stock.objects.select_related("site", "cable").order_by("name", "site"))
    entries = [Entry(each.pk, each.name, "", 0, each.pk) for each in stock]
    return Index(entries, {each.pk: words_of(*_stock_texts(each)) for each in stock})


def _stock_texts(stock: Stock) -> Iterator[str]:
    yield from [stock.get_kind_display(), PEOPLES_WORDS.get(stock.kind, "")]
    yield from [stock.site.name, stock.storage, stock.remark]
    if spec := getattr(stock, "cable", None):
        yield spec.ends
        yield f"{spec.length_m:g} m {spec.length_m:g}m" if spec.length_m else ""


def words_of(*texts: str) -> set[str]:
    return {word for text in texts for word in pieces(text)}


class _Kept:
    """The index of this process: built anew when something changed, and after KEPT_SECONDS in any case.

    What was changed past its model (in bulk, by hand) is noticed by then; what is shown of a thing is always
    read from the database.
    """

    def __init__(self, model: type[Model], build: Callable[[], Index]) -> None:
        self.build, self.index = build, Index([], {})
        self.stamp: tuple[Any, ...] = ()
        self.until = 0.0
        self.now = f"SELECT (SELECT stamp FROM studio_lookupstamp), MAX(id) FROM {model._meta.db_table}"  # noqa: S608

    def get(self) -> Index:
        stamp = self._stamp()
        if stamp != self.stamp or time.monotonic() > self.until:
            self.index, self.stamp = self.build(), stamp
            self.until = time.monotonic() + KEPT_SECONDS
        return self.index

    def _stamp(self) -> tuple[Any, ...]:
        """Asked by hand, since it is asked at every key press."""
        with connection.cursor() as cursor:
            cursor.execute(self.now)
            return (connection.settings_dict["NAME"], *(cursor.fetchone() or ()))

    def forget(self) -> None:
        self.stamp = ()


_units, _stock = _Kept(GearUnit, units_index), _Kept(Stock, stock_index)


def _changed(sender: type[Model], **kwargs: Any) -> None:
    """This process forgets at once; the others hear of it when it is committed, once a transaction."""
    _units.forget()
    _stock.forget()
    if LookupStamp.renew not in [run for _, run, *_ in connection.run_on_commit]:
        transaction.on_commit(LookupStamp.renew)


for model in SAYING:
    for signal in (post_save, post_delete):
        signal.connect(_changed, sender=model, dispatch_uid=f"studio.index_{model.__name__}")
