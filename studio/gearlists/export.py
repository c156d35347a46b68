"""Every unit and all counted stock as a list, with headings that are understood when it comes back."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from studio.importing.table import neutralised
from studio.models import GearModel, GearUnit, Room, Stock

HEADINGS = [
    "Tag",
    "Kind",
    "Maker",
    "Model",
    "Channels",
    "Serial",
    "Quantity",
    "Site",
    "Place",
    "Owner",
    "Purchase date",
    "Value",
    "Currency",
    "Phantom",
    "State",
    "House remark",
]
MARK = "\ufeff"  # by which spreadsheet programs know UTF-8


def gear_as_csv() -> str:
    """Comma, CRLF, UTF-8 with a mark in front; no cell that a spreadsheet program would compute."""
    kept = io.StringIO()
    kept.write(MARK)
    rows = csv.writer(kept)
    rows.writerow(HEADINGS)
    for row in [*_units(), *_stock()]:
        rows.writerow([neutralised(row.get(heading, "")) for heading in HEADINGS])
    return kept.getvalue()


def _units() -> Iterator[dict[str, str]]:
    units = GearUnit.objects.select_related("gear_model__microphone", "site", "home_room").order_by("tag")
    for unit in units:
        yield {
            "Tag": unit.tag,
            "Kind": _kind(unit.gear_model),
            "Maker": unit.gear_model.maker,
            "Model": unit.gear_model.name,
            "Channels": str(unit.gear_model.channels or ""),
            "Serial": unit.serial,
            "Quantity": "1",
            "Site": unit.site.name,
            "Place": _place(unit.home_room, unit.storage),
            "Owner": unit.owner,
            "Purchase date": unit.bought,
            "Value": "" if unit.value is None else str(unit.value),
            "Currency": unit.currency,
            "Phantom": unit.get_phantom_display() if unit.phantom else "",
            "State": "retired" if unit.retired else "",
            "House remark": unit.remark,
        }


def _kind(model: GearModel) -> str:
    spec = getattr(model, "microphone", None)
    said = [model.get_kind_display()]
    if spec is not None:
        said += [spec.get_transducer_display()] + ["valve"] * spec.own_supply
    return ", ".join(said)


def _place(room: Room | None, storage: str) -> str:
    return ", ".join(filter(None, [room.name if room else "", storage]))


def _stock() -> Iterator[dict[str, str]]:
    for stock in Stock.objects.select_related("site").order_by("site", "name"):
        yield {
            "Kind": "consumable" if stock.kind == Stock.Kind.OTHER else stock.get_kind_display(),
            "Model": stock.name,
            "Quantity": str(stock.count),
            "Site": stock.site.name,
            "Place": stock.storage,
            "House remark": stock.remark,
        }
