"""What is typed about service: a plan, a slot, that it is done."""

from __future__ import annotations

from datetime import tzinfo
from typing import Any

from django import forms
from django.utils import timezone

from studio.bench.forms import line
from studio.gear.forms import MomentField
from studio.models import GearModel, GearUnit, ServicePlan, Stock

MOST_DAYS, MOST_HOURS, MOST_MINUTES = 3660, 20_000, 1440


def number(label: str, most: int, help_text: str = "") -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=1,
        max_value=most,
        help_text=help_text,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        error_messages={
            "invalid": "Write a whole number.",
            "min_value": "At least 1; leave it empty where it doesn't count.",
            "max_value": f"At most {most} fits here.",
        },
    )


class PlanForm(forms.ModelForm[ServicePlan]):
    """One of unit, model and stock; one of days, hours of use and before a session, or several."""

    unit_tag = line("One unit, by its tag", 40)
    every_days = number("Every so many days", MOST_DAYS, "365 for a year.")
    every_hours = number("Every so many hours of use", MOST_HOURS, "Counted from the sessions that had it.")
    before_use_days = number(
        "At most so many days before a session that uses it", MOST_DAYS, "3 for a piano that is tuned, say."
    )
    minutes = number("How long it takes, minutes", MOST_MINUTES)

    class Meta:
        model = ServicePlan
        fields = [
            *("what", "gear_model", "stock", "every_days", "every_hours", "before_use_days"),
            *("minutes", "takes_room", "electrical", "starts_on", "ended"),
        ]
        labels = {
            "what": "What is done?",
            "gear_model": "Or every unit of a model",
            "stock": "Or a counted stock, like cables",
            "takes_room": "Nobody else may be in its room meanwhile",
            "electrical": "It is an electrical safety inspection or test",
            "starts_on": "Counted from, where it was never done",
            "ended": "This plan has ended",
        }
        widgets = {"starts_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}
        error_messages = {
            "what": {"required": "Say what is done, like “new valves”."},
            "starts_on": {
                "required": "Choose the day from which it is counted.",
                "invalid": "Write the day like 2027-03-02.",
            },
        }

    field_order = ["what", "unit_tag", "gear_model", "stock"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["stock"].queryset = Stock.objects.select_related("site")  # type: ignore[attr-defined]
        self.fields["gear_model"].queryset = GearModel.objects.filter(  # type: ignore[attr-defined]
            units__retired=False
        ).distinct()
        self.fields["minutes"].required = True
        self.fields["minutes"].error_messages["required"] = "Say how many minutes it takes."
        self.initial.setdefault("starts_on", timezone.localdate())
        if self.instance.unit:
            self.initial["unit_tag"] = self.instance.unit.tag
        if not self.instance.pk:
            del self.fields["ended"]

    def clean_unit_tag(self) -> GearUnit | None:
        tag = self.cleaned_data["unit_tag"]
        if not tag:
            return None
        unit = GearUnit.objects.filter(tag__iexact=tag).first()
        if unit is None:
            raise forms.ValidationError(
                f"No unit is called “{tag}”. Write its tag, or choose a model or stock."
            )
        return unit

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        things = [name for name in ("unit_tag", "gear_model", "stock") if said.get(name)]
        if len(things) != 1 and "unit_tag" in said:
            self.add_error("unit_tag", "Say what it is for: one unit, or a model, or a counted stock.")
        counts = [said.get(name) for name in ("every_days", "every_hours", "before_use_days")]
        if not any(counts) and not self.errors:
            self.add_error(
                "every_days", "Say when it falls due: by days, by hours of use, or before a session."
            )
        if said.get("stock") and (said.get("every_hours") or said.get("before_use_days")):
            self.add_error("every_days", "A counted stock has no hours of its own: count it by days.")
        self.instance.unit = said.get("unit_tag")
        return said


class SlotForm(forms.Form):
    """When it is to be done."""

    def __init__(self, *args: Any, tz: tzinfo, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["start"] = MomentField(
            tz, label=f"From ({tz})", error_messages={"required": "Choose when it begins."}
        )


class DoneForm(forms.Form):
    """An electrical test says who did it and what it showed: the record is asked for later."""

    note = line("What was done?", 200)
    result = forms.ChoiceField(
        label="Result",
        choices=[("passed", "done, and good"), ("failed", "did not pass: out of use from now on")],
        error_messages={"required": "Choose the result.", "invalid_choice": "Choose one of the list."},
    )

    def __init__(self, *args: Any, plan: ServicePlan, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if plan.electrical:
            note = self.fields["note"]
            note.label, note.required = "Who inspected or tested it, and what it showed", True
            note.error_messages["required"] = "Say who tested it and what it showed: somebody will ask later."
