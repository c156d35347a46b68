"""Which unit of the house each piece of a list is: by tag, by serial, or by model and place. Writes nothing."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from studio.importing.desk import Thing
from studio.importing.kinds import without_said
from studio.importing.quantities import bare_serial
from studio.importing.table import Finding
from studio.importing.words import fold
from studio.models import GearModel, GearUnit, Room, Site, Stock

ModelKey = tuple[str, str]


@dataclass(slots=True)
class Piece:
    """One physical thing of a row. unit None: it is new. tag: its own, or empty until one is made for it."""

    thing: Thing
    index: int
    tag: str
    unit: GearUnit | None = None

    @property
    def serial(self) -> str:
        return self.thing.serials[self.index] if self.index < len(self.thing.serials) else ""


def model_key(maker: str, name: str) -> ModelKey:
    """“AK 7” and “ak7” are one model."""
    bare = without_said(name)
    return fold(maker).replace(" ", ""), fold(bare).replace(" ", "") or bare.casefold()


def model_name(thing: Thing) -> str:
    """Never empty: a row that names no model has its kind, its tag or its serial."""
    named = thing.model or thing.kind.name.replace("_", " ") or thing.maker
    return named or " ".join([*thing.tags, *thing.serials])[:80] or "something"


@dataclass(slots=True)
class Known:
    """What the house has already, read once: the number of queries doesn't depend on the number of rows.

    promised: tags that the list gives to its own things; made: the last number given to a model's untagged units.
    """

    site: Site
    sites: dict[str, Site] = field(default_factory=dict)
    rooms: list[Room] = field(default_factory=list)
    models: dict[ModelKey, GearModel] = field(default_factory=dict)
    units: dict[str, GearUnit] = field(default_factory=dict)
    stock: dict[tuple[int, str], Stock] = field(default_factory=dict)
    by_serial: dict[tuple[ModelKey, str], list[GearUnit]] = field(default_factory=lambda: defaultdict(list))
    by_place: dict[tuple[ModelKey, str], list[GearUnit]] = field(default_factory=lambda: defaultdict(list))
    promised: set[str] = field(default_factory=set)
    made: dict[str, int] = field(default_factory=dict)

    @classmethod
    def read(cls, site: Site) -> Known:
        units = GearUnit.objects.select_related("gear_model", "site", "home_room").order_by("pk")
        known = cls(
            site=site,
            sites={fold(each.name): each for each in Site.objects.all()},
            rooms=sorted(Room.objects.select_related("site"), key=lambda room: -len(room.name)),
            models={model_key(model.maker, model.name): model for model in GearModel.objects.order_by("-pk")},
            units={unit.tag.casefold(): unit for unit in units},
            stock={(each.site_id, each.name.casefold()): each for each in Stock.objects.all()},
        )
        for unit in known.units.values():
            key = model_key(unit.gear_model.maker, unit.gear_model.name)
            if unit.serial:
                known.by_serial[key, bare_serial(unit.serial)].append(unit)
            else:
                known.by_place[key, place_key(unit.home_room, unit.storage)].append(unit)
        return known

    def site_of(self, thing: Thing) -> Site:
        return self.sites.get(fold(thing.site), self.site)

    def place_of(self, thing: Thing) -> tuple[Room | None, str]:
        """A room of the site that the place begins with, and what more it says."""
        site = self.site_of(thing)
        for room in self.rooms:
            match = re.match(rf"{re.escape(room.name)}(?:\s*[,;:/–-]\s*|\s+|$)", thing.place, re.IGNORECASE)
            if room.site_id == site.pk and match:
                return room, thing.place[match.end() :]
        return None, thing.place


def place_key(room: Room | None, storage: str) -> str:
    return f"{room.pk if room else ''}|{fold(storage)}"


def match_pieces(things: Sequence[Thing], known: Known) -> tuple[list[Piece], list[Finding]]:
    """Every piece with the unit it is, each unit at most once, and a question for each tag that is another thing's."""
    pieces = [
        Piece(thing, index, thing.tags[index] if index < len(thing.tags) else "")
        for thing in things
        for index in range(thing.pieces or 0)
        if not thing.stock
    ]
    taken: set[int] = set()
    asked: list[Finding] = []
    for piece in pieces:
        unit = known.units.get(piece.tag.casefold()) if piece.tag else None
        if unit is not None and not same_thing(piece, unit):
            asked.append(_taken_tag(piece, unit))
            piece.tag = ""
        elif unit is not None:
            piece.unit = unit
            taken.add(unit.pk)
    known.promised = {piece.tag.casefold() for piece in pieces if piece.tag}
    tagless = [piece for piece in pieces if piece.unit is None and not piece.tag]
    _claim(tagless, known, taken)
    return pieces, asked


def _claim(pieces: Iterable[Piece], known: Known, taken: set[int]) -> None:
    """Those with a serial by model and serial; the others by model and place, as many as there are."""
    for piece in pieces:
        key = model_key(piece.thing.maker, model_name(piece.thing))
        if piece.serial:
            found = known.by_serial[key, bare_serial(piece.serial)]
        else:
            found = known.by_place[key, place_key(*known.place_of(piece.thing))]
        piece.unit = next((unit for unit in found if unit.pk not in taken), None)
        if piece.unit is not None:
            taken.add(piece.unit.pk)


def same_thing(piece: Piece, unit: GearUnit) -> bool:
    """The row may say less than the house knows, but nothing else."""
    if piece.serial and unit.serial:
        return bare_serial(piece.serial) == bare_serial(unit.serial)
    maker, name = model_key(piece.thing.maker, model_name(piece.thing))
    its_maker, its_name = model_key(unit.gear_model.maker, unit.gear_model.name)
    return name == its_name and (not maker or not its_maker or maker == its_maker)


def _taken_tag(piece: Piece, unit: GearUnit) -> Finding:
    what = (
        f"Tag {piece.tag} is {unit.gear_model} in the house already, and {model_name(piece.thing)} in this row. "
        "The row comes in with a tag of its own making until you say which is right."
    )
    return Finding(what, piece.thing.row)
