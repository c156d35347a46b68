"""The form for a site: its name and zone, its office hours, and its terms for holds and cancelling."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.models import Site

DAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
KEPT_IF_EMPTY = [
    "opens",
    "closes",
    "answer_hours",
    "hold_days",
    "decide_hour",
    "deposit_percent",
    "rest_hours",
    "weekly_rest_hours",
]


class SiteForm(forms.ModelForm[Site]):
    """A figure that is left empty stays as it is; a new site has the usual ones."""

    office_days = forms.MultipleChoiceField(
        choices=[(str(number), day) for number, day in enumerate(DAYS, start=1)],
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    class Meta:
        model = Site
        fields = [
            "name",
            "zone",
            "office_days",
            "opens",
            "closes",
            "hold_days",
            "answer_hours",
            "decide_hour",
            "cancel_steps",
            "deposit_percent",
            "notice",
            "rest_hours",
            "weekly_rest_hours",
        ]
        widgets = {
            name: forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
            for name in ("opens", "closes", "decide_hour")
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["office_days"] = list(self.instance.office_days)
        for name in KEPT_IF_EMPTY:
            self.fields[name].required = False

    def clean_office_days(self) -> str:
        return "".join(sorted(self.cleaned_data["office_days"])) or self.instance.office_days

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in KEPT_IF_EMPTY:
            if cleaned.get(name) is None and name not in self.errors:
                cleaned[name] = getattr(self.instance, name)
        opens, closes = cleaned.get("opens"), cleaned.get("closes")
        if opens and closes and closes <= opens:
            self.add_error("closes", f"The office has to close after it opens ({opens:%H:%M}).")
        return cleaned
