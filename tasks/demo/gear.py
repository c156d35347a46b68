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
    Channel,
    DirectBoxSpec,
    Fault,
    GearModel,
    GearUnit,
    MicrophoneSpec,
    Person,
    PreampSpec,
    Stock,
)
from tasks.demo.entries import Entry
from tasks.demo.house import House, given, once, saved

OF_MODEL = ("maker", "name", "channels", "remark")
SPECS: dict[str, tuple[type[Model], tuple[str, ...]]] = {
    GearModel.Kind.MICROPHONE: (
        MicrophoneSpec,
        (
            "transducer",
            "patterns",
            "phantom",
            "own_supply",
            "current_ma",
            "sensitivity_mv_pa",
            "max_spl_db",
            "pad_db",
            "weight_g",
        ),
    ),
    GearModel.Kind.PREAMP: (
        PreampSpec,
        ("switching", "bank_size", "drain_seconds", "gain_min_db", "gain_max_db", "phantom_supply_ma"),
    ),
    GearModel.Kind.DI: (DirectBoxSpec, ("active", "phantom", "current_ma")),
}
OF_UNIT = ("storage", "value", "phantom", "remark")


def add_models(house: House, tables: dict[str, list[Entry]]) -> None:
    """[[microphone]], [[preamp]] and [[di]] with their specs; [[model]] is everything that has none."""
    for kind, (spec, keys) in SPECS.items():
        for entry in tables[kind]:
            entry.only(*OF_MODEL, *keys)
            model = _model(house, entry, kind)
            saved(entry, spec(gear_model=model, **given(entry, *keys)))
    plain = [value for value in GearModel.Kind.values if value not in SPECS]
    for entry in tables["model"]:
        entry.only("kind", *OF_MODEL)
        _model(house, entry, entry.one_of("kind", plain))


def _model(house: House, entry: Entry, kind: str) -> GearModel:
    model = GearModel(kind=kind, **given(entry, *OF_MODEL))
    return saved(entry, once(entry, house.models, str(model), model))


def add_units(house: House, entries: Sequence[Entry]) -> None:
    for entry in entries:
        entry.only("model", "tags", "serials", "site", "home", *OF_UNIT)
        tags, serials = entry.texts("tags"), entry.texts("serials")
        if not tags or len(serials) not in (0, len(tags)):
            raise entry.wrong(
                f"{len(tags)} tags and {len(serials)} serials; give as many serials as tags, or none."
            )
        fields = _unit_fields(house, entry)
        for tag, serial in zip(tags, serials or [""] * len(tags), strict=True):
            saved(entry, once(entry, house.units, tag, GearUnit(tag=tag, serial=serial, **fields)))


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
        entry.only("site", "kind", "name", "count", "storage")
        saved(entry, Stock(site=house.site(entry), **given(entry, "kind", "name", "count", "storage")))


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
