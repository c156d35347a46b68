"""What some words of a list mean here."""

from __future__ import annotations

from django import forms

NOTHING = "no input"


class TeachForm(forms.Form):
    words = forms.CharField(
        label="The words, without their number",
        max_length=60,
        error_messages={"required": "Write the words that the list uses."},
    )
    source = forms.CharField(
        label="mean",
        max_length=120,
        widget=forms.TextInput(attrs={"list": "sources", "autocomplete": "off"}),
        error_messages={"required": f"Choose a source, or write “{NOTHING}”."},
    )

    def clean_source(self) -> str:
        """The name of a source; empty for no input."""
        source = " ".join(self.cleaned_data["source"].split())
        return "" if source.casefold() == NOTHING else source
