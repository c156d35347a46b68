"""What the bench says about a fault."""

from __future__ import annotations

from datetime import tzinfo
from typing import Any

from django import forms

from studio.gear.forms import MomentField
from studio.models import Fault


class BackForm(forms.Form):
    def __init__(self, *args: Any, tz: tzinfo, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["back"] = MomentField(
            tz,
            later=True,
            label=f"Expected back ({tz})",
            help_text="Leave it empty while nobody knows.",
            required=False,
        )


class MendForm(forms.Form):
    outcome = forms.CharField(
        label="What was done?",
        max_length=200,
        error_messages={
            "required": "Say in a few words what was done: the next person will look for it.",
            "max_length": "Say it in 200 letters or fewer; these are %(show_value)d.",
        },
    )


class JudgeForm(forms.Form):
    severity = forms.ChoiceField(
        label="How bad?",
        choices=Fault.Severity.choices,
        error_messages={"required": "Choose how bad it is.", "invalid_choice": "Choose one of the list."},
    )
