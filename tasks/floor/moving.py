"""Putting sources elsewhere by hand: what is typed, whether it can be, and keeping it for the session."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.db import transaction
from django.utils import timezone

from bookings.models import Session
from studio.access import Act, require
from studio.floors.records import Area, Floor, Point
from studio.floors.shapes import bounds
from studio.models import Person
from tasks.floor.placing import area_at, refused
from tasks.floor.records import FloorPlan, Place
from tasks.floor.stations import token
from tasks.models import SourcePlace

SAME_M = 0.006
MOST_M = 200


class Metres(forms.FloatField):
    """Also with a decimal comma."""

    def __init__(self, label: str) -> None:
        words = "Write metres as a number, like 2.5."
        super().__init__(
            label=label,
            min_value=-MOST_M,
            max_value=MOST_M,
            error_messages={"required": words, "invalid": words, "min_value": words, "max_value": words},
            widget=forms.NumberInput(attrs={"step": "0.1", "inputmode": "decimal"}),
        )

    def clean(self, value: Any) -> Any:
        return super().clean(value.replace(",", ".") if isinstance(value, str) else value)


class PlaceForm(forms.Form):
    """Where one source stands, from the left and from the top of a room; back: as planned."""

    x = Metres("Across, m")
    y = Metres("Down, m")
    back = forms.BooleanField(label="As planned", required=False)

    def __init__(self, data: Any, place: Place, floor: Floor) -> None:
        self.place, self.areas = place, {area.name: area for area in floor.areas}
        x, y = in_room(self.areas[place.area], place.at)
        initial = {"room": place.area, "x": f"{x:.2f}", "y": f"{y:.2f}"}
        super().__init__(data, prefix=f"at-{token(place.station.key)}", initial=initial)
        names = [(name, name) for name in self.areas]
        self.fields["room"] = forms.ChoiceField(label="Room", choices=names, required=len(names) > 1)
        for name, bound in self.fields.items():
            bound.widget.attrs["aria-label"] = f"{place.station.key}: {bound.label or name}"

    @property
    def token(self) -> str:
        return token(self.place.station.key)

    @property
    def is_sent(self) -> bool:
        """Not where the page was loaded before this source came onto the list."""
        return f"{self.prefix}-x" in self.data

    def moved_to(self) -> Point | None:
        """Where it is to stand on the drawing; None where that is where it stands already."""
        said = self.cleaned_data
        area = self.areas[said.get("room") or self.place.area]
        left, top, _, _ = bounds(area.outline)
        at = round(left + said["x"], 2), round(top + said["y"], 2)
        same = area.name == self.place.area and all(
            abs(now - before) < SAME_M for now, before in zip(at, self.place.at, strict=True)
        )
        return None if same else at


def in_room(area: Area, at: Point) -> Point:
    """A position as from the left and from the top of the room."""
    left, top, _, _ = bounds(area.outline)
    return round(at[0] - left, 2), round(at[1] - top, 2)


def place_forms(plan: FloorPlan, data: Any = None) -> list[PlaceForm]:
    return [PlaceForm(data, place, plan.floor) for place in plan.places]


@dataclass(frozen=True, slots=True)
class Moves:
    """What was asked for: where to, and what goes back to where the plan would put it."""

    to: dict[str, Point]
    back: frozenset[str]


def moves_of(typed: Iterable[PlaceForm]) -> tuple[Moves, list[str]]:
    """What is asked for, and a sentence for each figure that can't be read."""
    to: dict[str, Point] = {}
    back: set[str] = set()
    wrong: list[str] = []
    for form in typed:
        key = form.place.station.key
        if not form.is_sent:
            continue
        if not form.is_valid():
            wrong += [f"{key}: {said}" for texts in form.errors.values() for said in texts]
        elif form.cleaned_data["back"]:
            back.add(key)
        elif (at := form.moved_to()) is not None:
            to[key] = at
    return Moves(to, frozenset(back)), wrong


def refusals(plan: FloorPlan, moves: Moves) -> list[str]:
    """Why they can't all stand there. What isn't moved and not put by hand makes room for what is."""
    staying = [p for p in plan.places if (p.by_hand or p.fixed) and p.station.key not in moves.back]
    after = [p for p in staying if p.station.key not in moves.to]
    found: list[str] = []
    for place in plan.places:
        at = moves.to.get(place.station.key)
        if at is None:
            continue
        if said := refused(plan.floor, after, place.station, at):
            found.append(said)
        else:
            after.append(Place(place.station, _area(plan, at), at, place.facing, "", True))
    return found


def _area(plan: FloorPlan, at: Point) -> str:
    area = area_at(plan.floor, at)
    return area.name if area else ""


def keep_moves(by: Person, session: Session, moves: Moves) -> None:
    """Raises PermissionDenied."""
    require(by, Act.TICK)
    with transaction.atomic():
        SourcePlace.objects.filter(session=session, room=session.room_id, key__in=moves.back).delete()
        for key, (x, y) in moves.to.items():
            SourcePlace.objects.update_or_create(
                session=session,
                room=session.room,
                key=key[:120],
                defaults={"x": x, "y": y, "by": by, "at": timezone.now()},
            )
