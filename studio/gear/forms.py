"""What people ask and report about gear."""

from __future__ import annotations

from datetime import datetime, tzinfo
from typing import Any

from django import forms

from studio.gear.moments import read_time
from studio.models import Channel, Fault, GearModel, GearUnit

NAMED = "Choose one of the list."


class MomentField(forms.Field):
    """An instant, typed and shown on a site's clock. later: which one is meant when the clocks go back."""

    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")

    def __init__(self, tz: tzinfo, *, later: bool = False, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.tz, self.later = tz, later

    def to_python(self, value: str | None) -> datetime | None:
        if not value:
            return None
        try:
            return read_time(value, self.tz, later=self.later)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from None

    def prepare_value(self, value: Any) -> Any:
        return value.astimezone(self.tz) if isinstance(value, datetime) else value


class AskForm(forms.Form):
    """One box, and when. An empty time is now."""

    q = forms.CharField(label="Unit, channel or kind", max_length=100, required=False)

    def __init__(self, *args: Any, tz: tzinfo, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["at"] = MomentField(tz, label=f"At another time ({tz})", required=False)


class ChannelField(forms.ModelChoiceField):  # type: ignore[type-arg]
    default_error_messages = {"invalid_choice": "This unit has no such channel. Choose one of the list."}

    def label_from_instance(self, obj: Channel) -> str:
        return f"channel {obj.number}"


class ReportForm(forms.Form):
    """What is wrong, and how bad or with which channel; the rest may stay empty."""

    effect = forms.ChoiceField(
        label="What is wrong?",
        widget=forms.RadioSelect,
        error_messages={"required": "Press what is wrong; the nearest is enough.", "invalid_choice": NAMED},
    )
    severity = forms.ChoiceField(
        label="How bad?",
        required=False,
        widget=forms.RadioSelect,
        choices=Fault.Severity.choices,
        error_messages={"invalid_choice": NAMED},
    )
    words = forms.CharField(
        label="What did it do?",
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"max_length": "Say it in 300 letters or fewer; these are %(show_value)d."},
    )

    field_order = ["effect", "channel", "severity", "words"]

    def __init__(self, *args: Any, unit: GearUnit, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        has_phantom = unit.gear_model.kind == GearModel.Kind.PREAMP
        self.fields["effect"].choices = [  # type: ignore[attr-defined]
            choice for choice in Fault.Effect.choices if has_phantom or choice[0] != Fault.Effect.NO_PHANTOM
        ]
        if unit.gear_model.channels:
            self.fields["channel"] = ChannelField(
                unit.channels.all(), label="Where?", required=False, empty_label="the whole unit"
            )
            self.order_fields(self.field_order)
