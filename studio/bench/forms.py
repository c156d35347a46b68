"""What the bench says about a fault, one form a step."""

from __future__ import annotations

from datetime import tzinfo
from decimal import Decimal
from typing import Any

from django import forms

from studio.gear.forms import MomentField
from studio.models import Fault
from studio.money import Money
from studio.photos.field import PhotoField

SHORT, LONG = 200, 1000
MOST_MINUTES = 10_000
MOST_COST = Decimal("999999.99")


def line(label: str, most: int = SHORT, required: str = "", **more: Any) -> forms.CharField:
    """required: the sentence for whoever leaves it empty; it may stay empty where there is none."""
    sentences = {
        "required": required,
        "max_length": f"Say it in {most} letters or fewer; these are %(show_value)d.",
    }
    return forms.CharField(
        label=label, max_length=most, required=bool(required), error_messages=sentences, **more
    )


def minutes() -> forms.IntegerField:
    return forms.IntegerField(
        label="Minutes of work",
        required=False,
        min_value=0,
        max_value=MOST_MINUTES,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        error_messages={
            "invalid": "Write whole minutes, like 45.",
            "min_value": "Minutes can't be less than none.",
            "max_value": f"At most {MOST_MINUTES} minutes fit here.",
        },
    )


def cost() -> Money:
    return Money(
        label="Cost",
        required=False,
        min_value=0,
        max_value=MOST_COST,
        decimal_places=2,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
        error_messages={
            "invalid": "Write the cost as a number, like 85.50.",
            "min_value": "A cost can't be less than nothing.",
            "max_value": f"At most {MOST_COST} fits here.",
            "max_decimal_places": "Two places after the point are enough.",
            "max_digits": f"At most {MOST_COST} fits here.",
        },
    )


class StepForm(forms.Form):
    """Of one fault: ids and times are its own. What is typed goes to its use case by the fields' names."""

    def __init__(self, *args: Any, fault: Fault, **kwargs: Any) -> None:
        kwargs["auto_id"] = f"{type(self).__name__}-{fault.pk}-%s".lower()
        super().__init__(*args, **kwargs)
        self.fault = fault
        self.build(fault, fault.unit.site.tz)

    def build(self, fault: Fault, tz: tzinfo) -> None:
        """For fields that depend on the fault."""


def back_field(tz: tzinfo, fault: Fault, label: str = "Expected back") -> MomentField:
    return MomentField(
        tz,
        later=True,
        label=f"{label} ({tz})",
        help_text="Leave it empty while nobody knows.",
        required=False,
        initial=fault.expected_back,
    )


class LookForm(StepForm):
    reproduced = forms.TypedChoiceField(
        label="Did it do it again?",
        required=False,
        choices=[("", "not tried"), ("yes", "yes, it did"), ("no", "no, it didn't")],
        coerce=lambda value: value == "yes",
        empty_value=None,
        error_messages={"invalid_choice": "Choose one of the list."},
    )
    note = line("What did you find?", LONG)


class StartForm(StepForm):
    """Nothing to say."""


class AwayForm(StepForm):
    to = line("To whom?", 120)
    cost = cost()

    def build(self, fault: Fault, tz: tzinfo) -> None:
        self.fields["to"].initial = fault.sent_to
        self.fields["cost"].label = f"Cost, as quoted{in_currency(fault)}"
        self.fields["returns"] = back_field(tz, fault, "They promise it")


class PartsForm(StepForm):
    parts = line("Which parts?", required="Say which parts it waits for, so that somebody can ask for them.")

    def build(self, fault: Fault, tz: tzinfo) -> None:
        self.fields["returns"] = back_field(tz, fault, "Ready again")


class NoteForm(StepForm):
    note = line("Note", LONG, widget=forms.Textarea(attrs={"rows": 2}))
    minutes = minutes()
    cost = cost()
    parts = line("Parts used")
    photo = PhotoField(label="A photo")

    def build(self, fault: Fault, tz: tzinfo) -> None:
        self.fields["cost"].label = f"Cost{in_currency(fault)}"

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if not self.errors and all(value in (None, "", b"") for value in said.values()):
            self.add_error("note", "Say what was found or done, or what it took.")
        return said


class BackForm(StepForm):
    def build(self, fault: Fault, tz: tzinfo) -> None:
        self.fields["back"] = back_field(tz, fault)


class JudgeForm(StepForm):
    severity = forms.ChoiceField(
        label="How bad?",
        choices=Fault.Severity.choices,
        error_messages={"required": "Choose how bad it is.", "invalid_choice": "Choose one of the list."},
    )

    def build(self, fault: Fault, tz: tzinfo) -> None:
        self.fields["severity"].initial = fault.severity


class MendForm(StepForm):
    outcome = line(
        "What was done?", required="Say in a few words what was done: the next person will look for it."
    )
    heard = forms.BooleanField(
        label="Somebody has heard it in use already",
        help_text="Otherwise plans avoid it until somebody has.",
        required=False,
    )


class HearForm(StepForm):
    fine = forms.ChoiceField(
        label="How is it in use?",
        choices=[("yes", "it is fine"), ("no", "it does it again")],
        error_messages={"required": "Choose one of the two.", "invalid_choice": "Choose one of the two."},
    )
    words = line("In words", 300)


def in_currency(fault: Fault) -> str:
    return f", {fault.unit.currency}" if fault.unit.currency else ""
