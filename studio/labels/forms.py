"""Which units get a label, and on which sheets."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.db.models.functions import Lower

from studio.labels.sheets import Sheet, to_cut
from studio.models import GearModel, GearUnit, Room

MOST = 500
SHEETS = [
    ("a4", "A4, plain, to be cut"),
    ("letter", "Letter, plain, to be cut"),
    ("own-a4", "A4 with labels on it: as measured below"),
    ("own-letter", "Letter with labels on it: as measured below"),
]
MEASURED = {
    "across": "Labels across",
    "down": "Labels down",
    "width_mm": "Width of one, mm",
    "height_mm": "Height of one, mm",
    "left_mm": "From the paper’s left edge, mm",
    "top_mm": "From the paper’s top edge, mm",
    "gap_across_mm": "Gap between two across, mm",
    "gap_down_mm": "Gap between two down, mm",
}


def _measure(name: str) -> forms.Field:
    if name in {"across", "down"}:
        return forms.IntegerField(label=MEASURED[name], required=False, min_value=1, max_value=40)
    least = 10 if name in {"width_mm", "height_mm"} else 0
    return forms.FloatField(label=MEASURED[name], required=False, min_value=least, max_value=300)


class LabelForm(forms.Form):
    """By room or kind, or by tags alone; with nothing chosen there are no labels yet."""

    room = forms.ModelChoiceField(
        Room.objects.select_related("site"),
        label="Everything that lives in",
        required=False,
        empty_label="any room",
    )
    kind = forms.ChoiceField(
        label="Kind", required=False, choices=[("", "any kind"), *GearModel.Kind.choices]
    )
    tags = forms.CharField(
        label="Only these tags",
        required=False,
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="One a line, or with commas between.",
    )
    channels = forms.BooleanField(label="A label for each channel too", required=False)
    sheet = forms.ChoiceField(label="Sheet", choices=SHEETS, required=False)
    used = forms.IntegerField(
        label="Labels of the first sheet that are used up", required=False, min_value=0, max_value=400
    )
    across, down = _measure("across"), _measure("down")
    width_mm, height_mm = _measure("width_mm"), _measure("height_mm")
    left_mm, top_mm = _measure("left_mm"), _measure("top_mm")
    gap_across_mm, gap_down_mm = _measure("gap_across_mm"), _measure("gap_down_mm")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        chosen = cleaned.get("sheet") or "a4"
        own = chosen.startswith("own-")
        missing = [name for name in MEASURED if cleaned.get(name) is None and name not in self.errors]
        for name in missing if own else []:
            self.add_error(name, "Measure it on a sheet of yours.")
        if self.errors:
            return cleaned
        measured = {name: cleaned[name] for name in MEASURED}
        sheet = Sheet(chosen.removeprefix("own-"), **measured) if own else to_cut(chosen)
        if problem := sheet.problem():
            self.add_error("sheet", problem)
        return cleaned | {"layout": sheet}

    def what(self) -> list[forms.BoundField]:
        return [self[name] for name in ("room", "kind", "tags", "channels")]

    def measures(self) -> list[forms.BoundField]:
        return [self[name] for name in MEASURED]

    def measures_are_asked(self) -> bool:
        return str(self["sheet"].value() or "").startswith("own-")

    def tags_asked(self) -> list[str]:
        typed = self.cleaned_data["tags"].replace(",", "\n").splitlines()
        return [tag for line in typed if (tag := " ".join(line.split()))]

    def units(self) -> QuerySet[GearUnit]:
        """At most MOST, by tag."""
        said, tags = self.cleaned_data, self.tags_asked()
        found = GearUnit.objects.filter(retired=False).select_related("gear_model", "home_room", "site")
        if not (said["room"] or said["kind"] or tags):
            return found.none()
        if said["room"]:
            found = found.filter(home_room=said["room"])
        if said["kind"]:
            found = found.filter(gear_model__kind=said["kind"])
        if tags:
            found = found.alias(low=Lower("tag")).filter(low__in=[tag.lower() for tag in tags])
        return found.order_by("tag").prefetch_related("channels")[:MOST]

    def unknown(self, units: list[GearUnit]) -> list[str]:
        """Tags that were asked for and have no label."""
        known = {unit.tag.lower() for unit in units}
        return [tag for tag in self.tags_asked() if tag.lower() not in known]
