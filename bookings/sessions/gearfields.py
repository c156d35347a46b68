"""The field of the booking form for gear that is wanted by tag or in words: what isn't clear is asked about."""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

from bookings.models import Session
from bookings.sessions.fields import Lines
from studio.gear.queries import whole_units
from studio.gear.search import find
from studio.gear.state import state_of
from studio.models import GearUnit

MOST_LINES, MOST_OFFERED = 30, 8
MEANT = "meant_"


@dataclass(frozen=True, slots=True)
class Unclear:
    """A line that may mean several units: `name` is the field that asks, left_out counts those not offered."""

    line: str
    name: str
    units: Sequence[GearUnit]
    left_out: int


class GearFields(forms.Form):
    """After check_gear, `wanted` holds the units that are clear and `unclear` what is asked about."""

    session: Session | None

    wanted_gear = Lines(
        label="Wanted gear",
        max_length=3_000,
        rows=3,
        help_text="One a line: a tag, or words like “large condenser”. Each is kept from setup to clear.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.wanted: dict[int, GearUnit] = {}
        self.unclear: list[Unclear] = []

    def check_gear(self) -> None:
        lines = [line.strip() for line in (self.cleaned_data.get("wanted_gear") or "").splitlines()]
        lines = [line for line in lines if line]
        if len(lines) > MOST_LINES:
            self.add_error("wanted_gear", f"At most {MOST_LINES} lines fit here; there are {len(lines)}.")
            return
        tagged = {unit.tag.casefold(): unit for unit in whole_units().filter(tag__in=lines)}
        for number, line in enumerate(lines):
            unit = tagged.get(line.casefold())
            self._want(line, unit) if unit else self._look_up(line, lines[:number].count(line))

    def questions_of_gear(self) -> list[forms.BoundField]:
        return [self[each.name] for each in self.unclear]

    def _look_up(self, line: str, before: int) -> None:
        """What a line names exactly is taken; anything else is asked about, even if only one is like it."""
        hits = find(line)
        if hits and hits[0].exact and hits[0].channel is None:
            self._want(line, whole_units().get(pk=hits[0].pk))
            return
        ids = list(dict.fromkeys(hit.pk for hit in hits))
        found = whole_units().filter(retired=False).in_bulk(ids[: 2 * MOST_OFFERED])
        units = [found[pk] for pk in ids if pk in found][:MOST_OFFERED]
        if not units:
            self.add_error(
                "wanted_gear",
                f"The house has nothing like “{line}”. Look it up under Gear, or take the line out; what is "
                "hired in is entered as a rental.",
            )
            return
        self._ask(Unclear(line, _name_of(line, before), units, len(ids) - len(units)))

    def _ask(self, unclear: Unclear) -> None:
        more = f" (and {unclear.left_out} more: write it closer)" if unclear.left_out else ""
        self.fields[unclear.name] = forms.ChoiceField(
            label=f"Which one is “{unclear.line}”?{more}",
            choices=[(str(unit.pk), _described(unit)) for unit in unclear.units],
            required=False,
            widget=forms.RadioSelect,
        )
        self.unclear.append(unclear)
        answered = str(self.data.get(self.add_prefix(unclear.name), ""))
        chosen = next((unit for unit in unclear.units if str(unit.pk) == answered), None)
        if chosen:
            self._want(unclear.line, chosen)
        else:
            self.add_error(
                "wanted_gear", f"Say which one is meant by “{unclear.line}”: the house lists what it may be."
            )

    def _want(self, line: str, unit: GearUnit) -> None:
        if unit.pk in self.wanted:
            self.add_error("wanted_gear", f"{unit.tag} is wanted twice (“{line}”). Take one of the two out.")
        self.wanted[unit.pk] = unit

    @property
    def wanted_units(self) -> tuple[int, ...]:
        return tuple(self.wanted)


def without_units(typed: Mapping[str, str], lost: Sequence[str]) -> str:
    """The lines that were typed, but for those that name these units or were said to mean them."""
    numbers = [pk for pk in lost[:MOST_LINES] if pk.isdecimal() and len(pk) < 19]
    tags = {tag.casefold() for tag in GearUnit.objects.filter(pk__in=numbers).values_list("tag", flat=True)}
    lines = [line.strip() for line in typed.get("wanted_gear", "").splitlines()[:MOST_LINES]]
    meant = [typed.get(_name_of(line, lines[:number].count(line))) for number, line in enumerate(lines)]
    return "\n".join(
        line
        for line, unit in zip(lines, meant, strict=True)
        if line.casefold() not in tags and unit not in numbers
    )


def _name_of(line: str, before: int) -> str:
    """Stays the same while other lines come and go; the same words a second time are a question of their own."""
    return f"{MEANT}{zlib.crc32(line.casefold().encode()):x}_{before}"


def _described(unit: GearUnit) -> str:
    return f"{unit.tag}: {unit.gear_model}, {unit.where}; {state_of(unit).words}"


def tags_of(session: Session) -> str:
    """The units that a session wants, as lines of the field."""
    return "\n".join(unit.tag for unit in session.wanted_units.all())
