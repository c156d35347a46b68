"""Which units the list shows."""

from __future__ import annotations

import django_filters as filters
from django import forms
from django.db.models import Q, QuerySet

from studio.gear.queries import DOUBTED, LIMITED, OUT, WORKS
from studio.gear.search import find
from studio.models import GearModel, GearUnit, Phantom, Room

STATES = {
    "works": ("works", [WORKS]),
    "usable": ("usable, if with a limit", [WORKS, DOUBTED, LIMITED]),
    "limited": ("with a limit or a doubt", [DOUBTED, LIMITED]),
    "out": ("out", [OUT]),
    "faults": ("with any open fault", [DOUBTED, LIMITED, OUT]),
}
FOUND_AT_MOST = 5000


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

    class Meta:
        model = GearUnit
        fields: list[str] = []
        form = forms.Form

    def like(self, units: QuerySet[GearUnit], name: str, query: str) -> QuerySet[GearUnit]:
        return units.filter(pk__in=[hit.pk for hit in find(query)[:FOUND_AT_MOST]])

    def in_state(self, units: QuerySet[GearUnit], name: str, value: str) -> QuerySet[GearUnit]:
        return units.filter(Q(rank__in=STATES[value][1]))
