"""Gear models with their specs, units, counted stock, and what is wrong with some of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import Model

from studio.faults import (
    FaultRefused,
    mend,
    report_fault,
    send_away,
    set_expected_back,
    start_bench,
)
from studio.models import (
    CableSpec,
    Channel,
    ConverterSpec,
    DirectBoxSpec,
    DynamicsSpec,
    EqualiserSpec,
    Fault,
    GearModel,
    GearUnit,
    ListeningSpec,
    MainsSpec,
    MicrophoneSpec,
    Person,
    PreampSpec,
    StandSpec,
    Stock,
)
from tasks.demo.entries import Entry
from tasks.demo.house import House, given, once, saved

OF_MODEL = ("maker", "name", "channels", "remark")
SPECS: dict[str, type[Model]] = {
    GearModel.Kind.MICROPHONE: MicrophoneSpec,
    GearModel.Kind.PREAMP: PreampSpec,
    GearModel.Kind.DI: DirectBoxSpec,
    GearModel.Kind.EQUALISER: EqualiserSpec,
    GearModel.Kind.COMPRESSOR: DynamicsSpec,
    GearModel.Kind.LIMITER: DynamicsSpec,
    GearModel.Kind.CONVERTER: ConverterSpec,
    GearModel.Kind.RECORDER: ConverterSpec,
    GearModel.Kind.MONITOR: ListeningSpec,
    GearModel.Kind.HEADPHONES: ListeningSpec,
    GearModel.Kind.HEADPHONE_AMP: ListeningSpec,
}
OF_STOCK: dict[str, type[Model]] = {Stock.Kind.STAND: StandSpec, Stock.Kind.CABLE: CableSpec}
OWN_TABLES = (GearModel.Kind.MICROPHONE, GearModel.Kind.PREAMP, GearModel.Kind.DI)
OF_UNIT = ("storage", "value", "phantom", "remark")


def add_models(house: House, tables: dict[str, list[Entry]]) -> None:
    """[[microphone]], [[preamp]] and [[di]] have tables of their own; every other kind is a [[model]]."""
    for kind in OWN_TABLES:
        for entry in tables[kind]:
            _add_model(house, entry, kind)
    others = [value for value in GearModel.Kind.values if value not in OWN_TABLES]
    for entry in tables["model"]:
        _add_model(house, entry, entry.one_of("kind", others), "kind")


def _add_model(house: House, entry: Entry, kind: str, *more: str) -> None:
    """A model with the figures of its kind, and behind `mains` what it draws and weighs."""
    spec = SPECS.get(kind)
    keys = figures_of(spec)
    entry.only(*OF_MODEL, *more, *keys, "mains")
    model = GearModel(kind=kind, **given(entry, *OF_MODEL))
    saved(entry, once(entry, house.models, str(model), model))
    if spec and (kind in OWN_TABLES or given(entry, *keys)):
        saved(entry, spec(gear_model=model, **given(entry, *keys)))
    if "mains" in entry.values:
        inner = Entry(entry.file, entry.table, entry.number, entry.get("mains", dict))
        inner.only(*figures_of(MainsSpec))
        saved(inner, MainsSpec(gear_model=model, **inner.values))


def figures_of(spec: type[Model] | None) -> list[str]:
    """The names of its figures."""
    return [field.name for field in spec._meta.concrete_fields if not field.primary_key] if spec else []


def add_units(house: House, entries: Sequence[Entry]) -> None:
    for entry in entries:
        entry.only("model", "tags", "serials", "pairs", "site", "home", *OF_UNIT)
        tags, serials = entry.texts("tags"), entry.texts("serials")
        if not tags or len(serials) not in (0, len(tags)):
            raise entry.wrong(
                f"{len(tags)} tags and {len(serials)} serials; give as many serials as tags, or none."
            )
        fields = _unit_fields(house, entry)
        matched = pair_words(tags) if entry.get("pairs", bool, False) else [""] * len(tags)
        for tag, serial, word in zip(tags, serials or [""] * len(tags), matched, strict=True):
            unit = GearUnit(tag=tag, serial=serial, matched=word, **fields)
            saved(entry, once(entry, house.units, tag, unit))


def pair_words(tags: Sequence[str]) -> list[str]:
    """The first with the second, the third with the fourth: each pair's word is its first tag."""
    return [f"pair of {tags[number - number % 2]}" for number in range(len(tags))]


def _unit_fields(house: House, entry: Entry) -> dict[str, Any]:
    site = house.site(entry)
    fields = {"site": site, "gear_model": entry.find(house.models, entry.get("model", str), "model")}
    if home := entry.get("home", str, ""):
        room = fields["home_room"] = entry.find(house.rooms, home, "room")
        if room.site_id != site.pk:
            raise entry.wrong(f"{home} is not a room of {site}; correct home or site.")
    return fields | given(entry, *OF_UNIT)


def add_stock(house: House, entries: Sequence[Entry]) -> None:
    for entry in entries:
        own = ("kind", "name", "count", "storage")
        spec = OF_STOCK.get(entry.one_of("kind", Stock.Kind.values))
        keys = figures_of(spec)
        entry.only("site", *own, *keys)
        stock = saved(entry, Stock(site=house.site(entry), **given(entry, *own)))
        if spec and given(entry, *keys):
            saved(entry, spec(stock=stock, **given(entry, *keys)))


def add_faults(house: House, entries: Sequence[Entry]) -> None:
    for entry in entries:
        entry.only("unit", "channel", "effect", "severity", "words", "since", "by", "step", "back", "outcome")
        try:
            _add_fault(house, entry)
        except FaultRefused as refused:
            raise entry.wrong(str(refused)) from None


def _add_fault(house: House, entry: Entry) -> None:
    unit = entry.find(house.units, entry.get("unit", str), "unit")
    fault = report_fault(
        by=entry.find(house.people, entry.get("by", str), "person"),
        unit=unit,
        channel=_channel(entry, unit),
        effect=entry.one_of("effect", Fault.Effect.values),
        severity=entry.one_of("severity", Fault.Severity.values, "") or None,
        words=entry.get("words", str, ""),
        since=entry.moment("since", house.today(unit.site), unit.site.tz),
    )
    _work_on(house.manager, house, entry, fault)


def _channel(entry: Entry, unit: GearUnit) -> Channel | None:
    if "channel" not in entry.values:
        return None
    number = entry.get("channel", int)
    if found := unit.channels.filter(number=number).first():
        return found
    raise entry.wrong(f"{unit} has no channel {number}; it has {unit.channels.count()}.")


def _work_on(by: Person, house: House, entry: Entry, fault: Fault) -> None:
    """What the bench has done about it so far."""
    match entry.one_of("step", ["on_bench", "away", "mended"], ""):
        case "on_bench":
            start_bench(by, fault)
        case "away":
            send_away(by, fault)
        case "mended":
            mend(by, fault, entry.get("outcome", str), heard=True)
    site = fault.unit.site
    if back := entry.moment("back", house.today(site), site.tz):
        set_expected_back(by, fault, back)
