"""A press of the answer that fills the form: the fields that it sets, as one value. Nothing is saved by it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.http import QueryDict

from bookings.drafts import Draft
from bookings.sessions.crewfields import ASSIGNED, WANTED
from bookings.sessions.fields import as_wall
from bookings.sessions.forms import SessionForm
from bookings.sessions.gearfields import without_units
from bookings.sessions.nearest import Alternative
from bookings.sessions.times import whiches

SETS = {*SessionForm.times, *(f"{name}_which" for name in SessionForm.times), "room", "kind", "beside"}
SETS |= {"setup_minutes"}
WITHOUT, WITHOUT_GEAR = "without", "without_gear"


@dataclass(frozen=True, slots=True)
class Press:
    """words stand on it, why beside it; value is what it sends as `fill`."""

    words: str
    why: str
    value: str
    cost: float = 0


def press_for(alternative: Alternative, asked: Draft) -> Press:
    draft = alternative.draft
    tz = draft.room.site.tz
    instants = {name: getattr(draft, name) for name in SessionForm.times}
    fields = {name: [as_wall(moment, tz)] for name, moment in instants.items()}
    fields |= {name: [which] for name, which in whiches(instants, tz).items()}
    fields |= {"room": [str(draft.room.pk)], "beside": [str(room.pk) for room in draft.beside] or [""]}
    if draft.kind:
        fields["kind"] = [draft.kind.name.casefold()]
    lost = {called.person_id for called in asked.crew} - {called.person_id for called in draft.crew}
    fields[WITHOUT] = [str(pk) for pk in sorted(lost)]
    fields[WITHOUT_GEAR] = [str(pk) for pk in asked.wanted_units if pk not in draft.wanted_units]
    return Press(alternative.words, alternative.why, _value(fields), round(alternative.cost, 1))


def press_for_setup(minutes: int) -> Press:
    return Press(f"Take {minutes} minutes of setup", "", _value({"setup_minutes": [str(minutes)]}))


def _value(fields: dict[str, Sequence[str]] | dict[str, list[str]]) -> str:
    data = QueryDict(mutable=True)
    for name, values in fields.items():
        data.setlist(name, list(values))
    return data.urlencode()


def filled(typed: QueryDict) -> QueryDict:
    """What was typed, with the fields of the press that was made; anything else in it is left alone."""
    data, fill = typed.copy(), QueryDict(typed.get("fill", "")[:2_000])
    for name in SETS & set(fill):
        data.setlist(name, [value for value in fill.getlist(name) if value or name != "beside"])
    for name in ASSIGNED | WANTED:
        data.setlist(name, [pk for pk in data.getlist(name) if pk not in fill.getlist(WITHOUT)])
    if (lost := fill.getlist(WITHOUT_GEAR)) and "wanted_gear" in data:
        data["wanted_gear"] = without_units(data, lost)
    return data
