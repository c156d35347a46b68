"""A new unit from the fewest words: what it is, and if need be a tag and where."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.db import transaction
from django.db.models import QuerySet

from studio.gearlists.matching import model_key
from studio.gearlists.writing import add_spec
from studio.importing.desk import Thing
from studio.importing.kinds import Kind, read_kind
from studio.models import GearModel, GearUnit, Site
from studio.signals import house_changed

LONGEST = 80
NUMBERED = re.compile(r"^(.*?)(\d{1,9})$", re.DOTALL)
HAVE_CHANNELS = frozenset(
    {
        *(GearModel.Kind.PREAMP, GearModel.Kind.EQUALISER, GearModel.Kind.COMPRESSOR, GearModel.Kind.LIMITER),
        *(GearModel.Kind.CONVERTER, GearModel.Kind.HEADPHONE_AMP),
    }
)
"""Kinds whose units are used channel by channel: how many there are can't be changed once a unit exists."""


@dataclass(frozen=True, slots=True)
class New:
    """What a unit is to be. model None: there is none of this name yet, and it is made of `what` and `kind`."""

    what: str
    model: GearModel | None
    kind: Kind
    site: Site
    tag: str = ""
    serial: str = ""


def known_models(what: str) -> list[GearModel]:
    """Models of this name, however it is spaced and written: with their maker, else without."""
    named = model_key("", what)[1]
    models = list(GearModel.objects.all())
    whole = [model for model in models if model_key("", str(model))[1] == named]
    return whole or [model for model in models if model_key("", model.name)[1] == named]


def kind_of(what: str, said: str = "", channels: int | None = None) -> Kind:
    """The kind that was chosen, or that the words name, with what else they say. A DI box has at least a channel."""
    read = read_kind([what], said)
    name = said or read.name
    usual = 1 if name == GearModel.Kind.DI else 0
    number = channels if channels is not None else read.channels or usual
    return Kind(name, number, read.transducer if name == read.name else "", read.valve, read.active)


def add_unit(new: New) -> GearUnit:
    """The unit, with its model where that is new. Raises IntegrityError where the tag was taken in between."""
    with transaction.atomic():
        model = new.model or _add_model(new)
        tag = new.tag or next_tag(model, new.site)
        unit = GearUnit.objects.create(gear_model=model, tag=tag, serial=new.serial, site=new.site)
        house_changed.send(GearUnit, thing=unit)
    return unit


def _add_model(new: New) -> GearModel:
    maker, name = _maker_and_name(new.what)
    model = GearModel.objects.create(maker=maker, name=name, kind=new.kind.name, channels=new.kind.channels)
    add_spec(model, Thing(row=0, line=0, pieces=1, model=name, kind=new.kind))
    return model


def _maker_and_name(what: str) -> tuple[str, str]:
    """A maker that the house knows stands in front; else all of it is the name."""
    makers = GearModel.objects.exclude(maker="").values_list("maker", flat=True).distinct()
    for maker in sorted(makers, key=len, reverse=True):
        if what.casefold().startswith(f"{maker.casefold()} "):
            return maker, what[len(maker) :].strip()[:LONGEST]
    return "", what[:LONGEST]


def next_tag(model: GearModel, site: Site) -> str:
    """The next free tag of the series: of this model at this site, of the model, of the kind at this site."""
    units = GearUnit.objects.all()
    alike = (
        units.filter(gear_model=model, site=site),
        units.filter(gear_model=model),
        units.filter(gear_model__kind=model.kind, site=site),
    )
    for series in alike:
        if last := _last(series):
            return _free_after(*last)
    stem = re.sub(r"[^\w.]+", "-", model.name).strip("-.")[:30] or "unit"
    return _free_after(f"{stem}-", "0")


def _last(units: QuerySet[GearUnit]) -> tuple[str, str] | None:
    """Stem and figures of the highest number in these tags."""
    numbered = [match for tag in units.values_list("tag", flat=True) if (match := NUMBERED.match(tag))]
    last = max(numbered, key=lambda match: int(match[2]), default=None)
    return (last[1], last[2]) if last else None


def _free_after(stem: str, figures: str) -> str:
    taken = {
        tag.casefold() for tag in GearUnit.objects.filter(tag__istartswith=stem).values_list("tag", flat=True)
    }
    number = int(figures) + 1
    while (tag := f"{stem}{number:0{len(figures)}}").casefold() in taken:
        number += 1
    return tag
