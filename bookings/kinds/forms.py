"""The form for one kind of session."""

from __future__ import annotations

from typing import Any

from django import forms

from bookings.models import SessionKind
from bookings.sessions.fields import Line
from studio.models import Site

MOST = 9999


class KindForm(forms.ModelForm[SessionKind]):
    """Of a kind that sessions have, what it means for the room stays: history would mean something else."""

    name = Line(label="Name", max_length=40, missing="Give the kind a name.")
    order = forms.IntegerField(
        label="Place on the list",
        min_value=0,
        max_value=MOST,
        required=False,
        error_messages={
            "invalid": "Write the place as a whole number, like 3.",
            "min_value": "At least 0.",
            "max_value": f"At most {MOST} fits here.",
        },
    )

    class Meta:
        model = SessionKind
        fields = ["name", "nature", "loud", "wants_quiet", "offered", "order"]
        labels = {"nature": "What it means for the room"}
        help_texts = {
            "loud": "Warned of in a room's quiet hours, and beside what wants quiet.",
            "wants_quiet": "Warned of beside loud work, where sound carries between the rooms.",
        }

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site = self.instance.site = site
        if self.instance.pk and self.instance.sessions.exists():
            self.fields["nature"].disabled = True
            self.fields[
                "nature"
            ].help_text = "Fixed, since sessions are of this kind. Withdraw it and add another."

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"].strip()
        others = SessionKind.objects.filter(site=self.site).exclude(pk=self.instance.pk)
        for other in others:
            if other.name.casefold() == name.casefold():
                way = "" if other.offered else " It is withdrawn: offer it again."
                raise forms.ValidationError(f"{self.site} has “{other.name}” on its list already.{way}")
        return name

    def clean_order(self) -> int:
        order: int | None = self.cleaned_data["order"]
        if order is not None:
            return order
        last = SessionKind.objects.filter(site=self.site).order_by("-order", "-pk").first()
        return min(last.order + 1, MOST) if last else 1
