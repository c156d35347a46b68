"""Which units get a label."""

from __future__ import annotations

from django import forms
from django.db.models import QuerySet
from django.db.models.functions import Lower

from studio.models import GearModel, GearUnit, Room

MOST = 500


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
