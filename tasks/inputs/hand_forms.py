"""One more input, by hand."""

from __future__ import annotations

from django import forms

from tasks.by_hand import MOST_AT_ONCE, PICKUPS


class AddForm(forms.Form):
    source = forms.CharField(
        label="Source",
        max_length=120,
        widget=forms.TextInput(attrs={"list": "sources", "autocomplete": "off"}),
        error_messages={"required": "Choose a source of the list."},
    )
    count = forms.IntegerField(
        label="How many",
        min_value=1,
        max_value=MOST_AT_ONCE,
        initial=1,
        error_messages={
            "required": "Say how many.",
            "invalid": "Write the number in figures, like 2.",
            "min_value": "Add at least 1.",
            "max_value": f"Add at most {MOST_AT_ONCE} at once.",
        },
    )
    pickup = forms.ChoiceField(label="Picked up by", required=False, choices=list(PICKUPS.items()))

    def said(self) -> str:
        """What is wrong, as one line."""
        return " ".join(str(error) for errors in self.errors.values() for error in errors)
