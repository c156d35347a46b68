"""Service plans, and on which days they were followed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time, timedelta
from typing import Any

from studio.models import ServiceDone, ServicePlan, Site, Stock
from tasks.demo.entries import Entry
from tasks.demo.house import House, given, saved

COUNTED = ("what", "every_days", "every_hours", "before_use_days", "minutes", "electrical")


def add_services(house: House, entries: Sequence[Entry]) -> None:
    for entry in entries:
        entry.only(*COUNTED, "of", "room", "from", "done")
        thing = _thing(house, entry)
        site = _site(thing)
        start = house.today(site) + timedelta(days=entry.get("from", int))
        fields = {**thing, **given(entry, *COUNTED), "starts_on": start}
        plan = saved(entry, ServicePlan(takes_room=entry.get("room", bool, False), **fields))
        for days in entry.get("done", list, []):
            day = house.today(site) + timedelta(days=days)
            at = datetime.combine(day, time(11), site.tz)
            done = ServiceDone(plan=plan, unit=plan.unit, stock=plan.stock, at=at, by=house.manager)
            saved(entry, done, leave_out=["unit", "stock"])


def _thing(house: House, entry: Entry) -> dict[str, Any]:
    """The field of the plan that says what it is for."""
    inner = Entry(
        entry.file, entry.table, entry.number, {"what": entry.values.get("what"), **entry.get("of", dict)}
    )
    inner.only("what", "unit", "model", "stock", "site")
    if unit := inner.get("unit", str, ""):
        return {"unit": entry.find(house.units, unit, "unit")}
    if model := inner.get("model", str, ""):
        return {"gear_model": entry.find(house.models, model, "model")}
    found = Stock.objects.filter(name=inner.get("stock", str), site=house.site(inner)).first()
    if found is None:
        raise entry.wrong("there is no such stock on that site; correct it or add one.")
    return {"stock": found}


def _site(thing: dict[str, Any]) -> Site:
    """Whose day is meant; of a model, that of the first site."""
    (found,) = thing.values()
    return getattr(found, "site", None) or Site.objects.earliest("pk")
