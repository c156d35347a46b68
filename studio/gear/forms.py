"""What people ask and report about gear."""

from __future__ import annotations

from datetime import datetime, tzinfo
from typing import Any

from django import forms

from studio.gear.moments import read_time
from studio.gear.search import find
from studio.models import Channel, Fault, GearModel, GearUnit
from studio.photos.field import PhotoField

NAMED = "Choose one of the list."


def _line(label: str, most: int, **more: Any) -> forms.CharField:
    too_long = f"Say it in {most} letters or fewer; these are %(show_value)d."
    return forms.CharField(
        label=label, max_length=most, required=False, error_messages={"max_length": too_long}, **more
    )


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
    """What is wrong, and how bad or with which channel; the rest may stay empty, and helps whoever mends it."""

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
    photo = PhotoField(label="A photo")
    words = _line("What did it do?", 300, widget=forms.Textarea(attrs={"rows": 2}))
    often = forms.ChoiceField(
        label="How often?",
        required=False,
        choices=Fault.Often.choices,
        error_messages={"invalid_choice": NAMED},
    )
    above_gain_db = forms.FloatField(
        label="Noisy above this gain, dB",
        required=False,
        min_value=-20,
        max_value=90,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
        error_messages={
            "invalid": "Write the gain in dB as a number, like 40.",
            "min_value": "At least -20 dB.",
            "max_value": "At most 90 dB.",
        },
    )
    pattern = _line("Which pattern is dead?", 20)
    joined_to = _line("What was it joined to?", 200)
    cured_by = _line("Did another cable, channel or unit cure it? Which?", 200)
    usable_today = forms.TypedChoiceField(
        label="Usable for the rest of today?",
        required=False,
        choices=[("", "not known"), ("yes", "yes"), ("no", "no")],
        coerce=lambda value: value == "yes",
        empty_value=None,
        error_messages={"invalid_choice": NAMED},
    )
    suspects = _line("It might also be (tags, with a channel if you like: R-02, Oak 3)", 200)
    workaround = _line("A way round it for now", 200)

    field_order = ["effect", "channel", "severity", "photo", "words"]

    def __init__(self, *args: Any, unit: GearUnit, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        has_phantom = unit.gear_model.kind == GearModel.Kind.PREAMP
        has_patterns = unit.gear_model.kind == GearModel.Kind.MICROPHONE
        left_out = {Fault.Effect.NO_PHANTOM} if not has_phantom else set()
        left_out |= {Fault.Effect.PATTERN} if not has_patterns else set()
        self.fields["effect"].choices = [  # type: ignore[attr-defined]
            choice for choice in Fault.Effect.choices if choice[0] not in left_out
        ]
        self.fields["workaround_until"] = MomentField(
            unit.site.tz, label=f"The way round ends ({unit.site.tz})", required=False
        )
        if not has_patterns:
            del self.fields["pattern"]
        if unit.gear_model.channels:
            self.fields["channel"] = ChannelField(
                unit.channels.all(), label="Where?", required=False, empty_label="the whole unit"
            )
        self.order_fields(self.field_order)

    def more(self) -> list[forms.BoundField]:
        """What stands behind “Say more”."""
        return [field for field in self if field.name not in {"effect", "channel", "severity", "photo"}]

    def clean_suspects(self) -> list[tuple[GearUnit, Channel | None]]:
        """Each must be the very name of a unit, or of a channel of one."""
        found = []
        for name in filter(None, (part.strip() for part in self.cleaned_data["suspects"].split(","))):
            hit = next((hit for hit in find(name) if hit.exact), None)
            if hit is None:
                raise forms.ValidationError(f"No unit is called “{name}”. Write its tag, or leave it out.")
            unit = GearUnit.objects.get(pk=hit.pk)
            found.append((unit, unit.channels.filter(number=hit.channel).first() if hit.channel else None))
        return found
