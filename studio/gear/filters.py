"""Which units the list shows."""

from __future__ import annotations

from datetime import UTC, datetime, tzinfo
from typing import Any

import django_filters as filters
from django import forms
from django.db.models import Q, QuerySet

from studio.gear.moments import read_time
from studio.gear.queries import DOUBTED, LIMITED, OUT, WORKS, free_throughout, ranked
from studio.gear.search import find
from studio.models import GearModel, GearUnit, Phantom, Room
from studio.spans import Span

STATES = {
    "works": ("works", [WORKS]),
    "usable": ("usable, if with a limit", [WORKS, DOUBTED, LIMITED]),
    "limited": ("with a limit or a doubt", [DOUBTED, LIMITED]),
    "out": ("out", [OUT]),
    "faults": ("with any open fault", [DOUBTED, LIMITED, OUT]),
}
FOUND_AT_MOST = 5000
A_TIME = forms.TextInput(attrs={"type": "datetime-local"})


class FreeForm(forms.Form):
    """Free from, until: on the clock of whoever asks. Both or none; `span` is what they say."""

    field_order = ("q", "kind", "state", "free_from", "free_until", "room", "phantom", "pad", "channels")
    rarely_asked = ("room", "phantom", "pad", "channels")
    tz: tzinfo = UTC
    free_from = forms.CharField(label="Free from", required=False, widget=A_TIME, max_length=40)
    free_until = forms.CharField(label="Free until", required=False, widget=A_TIME, max_length=40)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        start, end = self._time("free_from"), self._time("free_until", later=True)
        if start and end and end <= start:
            self.add_error("free_until", "This is not after the time from which it should be free.")
        elif start and end:
            cleaned["span"] = Span(start, end)
        elif start and "free_until" not in self.errors:
            self.add_error("free_until", "Say until when, too.")
        elif end and "free_from" not in self.errors:
            self.add_error("free_from", "Say from when, too.")
        return cleaned

    def usual(self) -> list[forms.BoundField]:
        return [field for field in self if field.name not in self.rarely_asked]

    def more(self) -> list[forms.BoundField]:
        return [self[name] for name in self.rarely_asked]

    def more_is_asked(self) -> bool:
        return any(field.data for field in self.more())

    def _time(self, name: str, *, later: bool = False) -> datetime | None:
        if not (text := self.cleaned_data.get(name, "")):
            return None
        try:
            return read_time(text, self.tz, later=later)
        except ValueError as error:
            self.add_error(name, str(error))
            return None


class UnitFilter(filters.FilterSet):  # type: ignore[misc]
    q = filters.CharFilter(method="like", label="Named like", max_length=100)
    kind = filters.ChoiceFilter(
        field_name="gear_model__kind", label="Kind", choices=GearModel.Kind.choices, empty_label="any kind"
    )
    room = filters.ModelChoiceFilter(
        field_name="home_room",
        label="Room",
        queryset=Room.objects.select_related("site"),
        empty_label="anywhere",
        null_label="no room of its own",
    )
    phantom = filters.ChoiceFilter(
        field_name="phantom_said", label="Phantom", choices=Phantom.choices, empty_label="any"
    )
    state = filters.ChoiceFilter(
        method="in_state",
        label="State",
        choices=[(name, label) for name, (label, _) in STATES.items()],
        empty_label="any state",
    )

    pad = filters.ChoiceFilter(
        method="with_pad", label="Pad", choices=[("yes", "has a pad"), ("no", "has none")], empty_label="any"
    )
    channels = filters.NumberFilter(
        field_name="gear_model__channels",
        lookup_expr="gte",
        label="Channels, at least",
        min_value=0,
        max_value=9999,
    )

    class Meta:
        model = GearUnit
        fields: list[str] = []
        form = FreeForm

    def filter_queryset(self, units: QuerySet[GearUnit]) -> QuerySet[GearUnit]:
        if self.span:
            units = ranked(units, self.span)
        for name, value in self.form.cleaned_data.items():
            if name in self.filters:
                units = self.filters[name].filter(units, value)
        return free_throughout(units, self.span) if self.span else units

    @property
    def span(self) -> Span | None:
        """Between which times a unit must be free; None where the form does not ask."""
        return self.form.cleaned_data.get("span") if self.form.is_bound else None

    def like(self, units: QuerySet[GearUnit], name: str, query: str) -> QuerySet[GearUnit]:
        return units.filter(pk__in=[hit.pk for hit in find(query)[:FOUND_AT_MOST]])

    def with_pad(self, units: QuerySet[GearUnit], name: str, value: str) -> QuerySet[GearUnit]:
        padded = Q(gear_model__microphone__pad_db__gt=0) | Q(gear_model__preamp__pad_db__gt=0)
        return units.filter(padded) if value == "yes" else units.exclude(padded)

    def in_state(self, units: QuerySet[GearUnit], name: str, value: str) -> QuerySet[GearUnit]:
        return units.filter(Q(rank__in=STATES[value][1]))
