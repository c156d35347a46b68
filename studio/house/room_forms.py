"""Forms for rooms, and for what joins two of them."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet

from studio.choices import SomeOf
from studio.house.base_form import HouseForm
from studio.models import Room, RoomPair


class RoomForm(HouseForm[Room]):
    parts = SomeOf(
        queryset=Room.objects.all(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Rooms that this one is made of. Booking it takes them too.",
    )

    class Meta:
        model = Room
        fields = [
            "site",
            "name",
            "remark",
            "parts",
            "setup_minutes",
            "turnaround_minutes",
            "lines",
            "recorder_inputs",
            "cable_run_m",
            "patch_points",
            "mains_outlets",
            "mains_v",
            "circuit_a",
            "people",
            "quiet_from",
            "quiet_until",
            "bookable",
            "order",
        ]
        widgets = {
            name: forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
            for name in ("quiet_from", "quiet_until")
        }
        help_texts = {"quiet_from": "Noise hours: loud work in them is warned of, not refused."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk and self.instance.resource.claims.exists():
            self.fields["site"].disabled = True
            self.fields["site"].help_text = "Fixed, since the room has been booked on this site's clock."

    def clean_parts(self) -> QuerySet[Room]:
        parts: QuerySet[Room] = self.cleaned_data["parts"]
        for part in parts:
            if self.instance.pk and self.instance in part.with_parts():
                raise forms.ValidationError(f"{part} is made of this room, or is this room. Take it out.")
        return parts

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        hours = {name: cleaned.get(name) for name in ("quiet_from", "quiet_until")}
        if not set(hours) & set(self.errors):
            given = [name for name, hour in hours.items() if hour is not None]
            if len(given) == 1:
                missing = "quiet_until" if given == ["quiet_from"] else "quiet_from"
                self.add_error(missing, "Give both hours, or neither.")
            elif given and hours["quiet_from"] == hours["quiet_until"]:
                self.add_error("quiet_until", "Give another hour than the first, or leave both empty.")
        return cleaned


class RoomWithSite(forms.ModelChoiceField):  # type: ignore[type-arg]
    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.name}, {obj.site.name}"


class RoomPairForm(HouseForm[RoomPair]):
    """Two rooms of one site, each pair kept once whichever is named first."""

    first = RoomWithSite(Room.objects.select_related("site"), label="One room")
    second = RoomWithSite(Room.objects.select_related("site"), label="The other room")

    class Meta:
        model = RoomPair
        fields = ["first", "second", "tie_lines", "sight", "cue_feed", "sound_carries", "remark"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("first", "second"):
            self.fields[name].disabled = bool(self.instance.pk)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        first, second = cleaned.get("first"), cleaned.get("second")
        if not first or not second:
            return cleaned
        if first == second:
            self.add_error("second", "A pair needs two rooms. Choose another one.")
        elif first.site_id != second.site_id:
            self.add_error(
                "second", f"{second} is at {second.site}, {first} at {first.site}: choose one site's."
            )
        elif first.pk > second.pk:
            cleaned["first"], cleaned["second"] = second, first
        known = RoomPair.objects.filter(first=cleaned["first"], second=cleaned.get("second"))
        if not self.errors and known.exclude(pk=self.instance.pk).exists():
            self.add_error("second", f"{first} and {second} are kept already: change that pair.")
        return cleaned
