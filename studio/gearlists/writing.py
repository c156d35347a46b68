"""A piece of a list to rows of the house: models with what the words say of them, units, counted stock."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from studio.gearlists.matching import Known, Piece, model_key, model_name
from studio.importing.desk import Thing
from studio.importing.figures import length_in
from studio.importing.quantities import bare_serial
from studio.models import (
    CableSpec,
    DirectBoxSpec,
    GearModel,
    GearUnit,
    ListeningSpec,
    MainsSpec,
    MicrophoneSpec,
    Phantom,
    Stock,
)

LONGEST_REMARK = 1000
LONGEST_STEM = 30
LISTENED_TO = {GearModel.Kind.HEADPHONES, GearModel.Kind.MONITOR, GearModel.Kind.HEADPHONE_AMP}
WITHOUT_MAINS = {GearModel.Kind.MICROPHONE, GearModel.Kind.DI, GearModel.Kind.HEADPHONES}
OF_MICROPHONE = {
    "current_ma": "current_ma",
    "sensitivity_mv_pa": "sensitivity_mv_pa",
    "max_spl_db": "max_spl_db",
    "self_noise_dba": "self_noise_dba",
    "impedance_ohm": "output_ohm",
    "weight_g": "weight_g",
}
"""Figures of a list to those of a MicrophoneSpec."""
NEEDS_PHANTOM = {"large condenser", "small condenser", "clip condenser"}


def add_models(things: Iterable[Thing], known: Known) -> None:
    """The models that the house hasn't, each once, with the most channels that a row gives it."""
    for thing in things:
        key = model_key(thing.maker, model_name(thing))
        if thing.stock or not thing.pieces:
            continue
        if key not in known.models:
            known.models[key] = GearModel.objects.create(
                maker=thing.maker,
                name=model_name(thing),
                kind=thing.kind.name or GearModel.Kind.OTHER,
                channels=_channels(thing),
            )
            add_spec(known.models[key], thing)
        elif known.models[key].channels < _channels(thing) and not known.models[key].units.exists():
            known.models[key].channels = _channels(thing)
            known.models[key].save(update_fields=["channels"])


def _channels(thing: Thing) -> int:
    return thing.kind.channels or (1 if thing.kind.name == GearModel.Kind.DI else 0)


def add_spec(model: GearModel, thing: Thing) -> None:
    """What the words of the list are sure of. A condenser without a supply of its own needs phantom (IEC 61938)."""
    kind, said = thing.kind, thing.figures
    if kind.name == GearModel.Kind.MICROPHONE and kind.transducer:
        phantom = Phantom.INDIFFERENT if kind.transducer == "moving-coil" else Phantom.UNKNOWN
        if kind.transducer in NEEDS_PHANTOM and not kind.valve:
            phantom = Phantom.NEEDS
        MicrophoneSpec.objects.create(
            gear_model=model,
            transducer=kind.transducer,
            own_supply=kind.valve,
            phantom=phantom,
            **_microphone_figures(thing),
        )
    if kind.name == GearModel.Kind.DI and kind.active is not None:
        phantom = Phantom.UNKNOWN if kind.active else Phantom.INDIFFERENT
        DirectBoxSpec.objects.create(
            gear_model=model, active=kind.active, phantom=phantom, current_ma=said.get("current_ma")
        )
    if kind.name in LISTENED_TO and "impedance_ohm" in said:
        ListeningSpec.objects.create(gear_model=model, impedance_ohm=said["impedance_ohm"])
    if kind.name not in WITHOUT_MAINS and ("power_w" in said or "weight_g" in said):
        weight_kg = said["weight_g"] / 1000 if "weight_g" in said else None
        MainsSpec.objects.create(
            gear_model=model, power_w=said.get("power_w"), weight_kg=weight_kg, valves=kind.valve
        )


def _microphone_figures(thing: Thing) -> dict[str, Any]:
    found: dict[str, Any] = {
        name: thing.figures[said] for said, name in OF_MICROPHONE.items() if said in thing.figures
    }
    if "weight_g" in found:
        found["weight_g"] = round(found["weight_g"])
    return found | ({"patterns": thing.patterns} if thing.patterns else {})


def wanted(piece: Piece, known: Known) -> dict[str, Any]:
    """The fields of the unit that the row says something of. What it doesn't say stays as it is."""
    thing = piece.thing
    room, storage = known.place_of(thing)
    said: dict[str, Any] = {
        "serial": piece.serial,
        "owner": thing.owner,
        "bought": thing.bought,
        "phantom": thing.phantom,
        "retired": thing.state == "retired",
    }
    if thing.place:
        said |= {"home_room": room, "storage": storage}
    if thing.value is not None:
        said |= {"value": thing.value, "currency": thing.currency}
    return {
        name: value for name, value in said.items() if value or name in {"home_room", "storage", "currency"}
    }


def changes(piece: Piece, known: Known) -> dict[str, Any]:
    """Field to new value, of a unit that exists. A remark is added to, never written over."""
    unit = piece.unit
    if unit is None:
        return {}
    said = wanted(piece, known)
    found = {name: value for name, value in said.items() if getattr(unit, name) != value}
    if bare_serial(unit.serial) == bare_serial(piece.serial):
        found.pop("serial", None)
    if remark := added_remark(unit.remark, piece.thing.remark(piece.index)):
        found["remark"] = remark
    return found


def added_remark(old: str, new: str) -> str:
    """Empty where nothing is to be added: it stands there already, or there is no room for it."""
    if not new or new in old:
        return ""
    joined = f"{old}; {new}" if old else new
    return joined if len(joined) <= LONGEST_REMARK else ""


def add_unit(piece: Piece, known: Known) -> GearUnit:
    thing = piece.thing
    tag = piece.tag or made_tag(model_name(thing), known)
    unit = GearUnit(
        gear_model=known.models[model_key(thing.maker, model_name(thing))],
        tag=tag,
        site=known.site_of(thing),
        remark=thing.remark(piece.index)[:LONGEST_REMARK],
        **wanted(piece, known),
    )
    unit.save()
    known.units[tag.casefold()] = unit
    return unit


def made_tag(name: str, known: Known) -> str:
    """A tag for what has none, after its model: FL-12-1, FL-12-2. The next number that is free."""
    stem = re.sub(r"[^\w.]+", "-", name).strip("-.")[:LONGEST_STEM] or "unit"
    number = known.made.get(stem, 0) + 1
    while f"{stem}-{number}".casefold() in known.units or f"{stem}-{number}".casefold() in known.promised:
        number += 1
    known.made[stem] = number
    return f"{stem}-{number}"


def stock_wanted(things: Iterable[Thing], known: Known) -> list[Stock]:
    """One line of stock for each name and site, unsaved, with what the rows of that name give together."""
    found: dict[tuple[int, str], Stock] = {}
    for thing in things:
        if not thing.stock or thing.pieces is None:
            continue
        site, name = known.site_of(thing), model_name(thing)
        stock = found.setdefault(
            (site.pk, name.casefold()), Stock(site=site, name=name, kind=thing.stock, count=0)
        )
        stock.count += thing.pieces
        stock.storage = "; ".join(dict.fromkeys(filter(None, [stock.storage, thing.place])))[:120]
        about = "about, not counted" if thing.about else ""
        remark = "; ".join(filter(None, [about, *thing.remarks]))
        stock.remark = added_remark(stock.remark, remark) or stock.remark
    return list(found.values())


def add_stock(stock: Stock) -> None:
    """New stock; of a cable the length that its name gives."""
    stock.save()
    if stock.kind == Stock.Kind.CABLE and (length_m := length_in(stock.name)):
        CableSpec.objects.create(stock=stock, length_m=length_m)
