"""One more preference, and the weights of the house."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from django import forms

from tasks.planning.costs import CONCERNS, LEAST, MOST, Concern, Costs


class PreferenceForm(forms.Form):
    source = forms.CharField(
        label="For",
        max_length=120,
        help_text="A source, or a whole family such as drum kit.",
        widget=forms.TextInput(attrs={"list": "sources", "autocomplete": "off"}),
        error_messages={"required": "Choose a source or a family of the list."},
    )
    never = forms.ChoiceField(
        label="use",
        required=False,
        choices=[("", "always, in this order"), ("yes", "never, unless nothing else is left")],
    )
    wants = forms.CharField(
        label="this kind, model or unit",
        max_length=160,
        widget=forms.TextInput(attrs={"list": "things", "autocomplete": "off"}),
        error_messages={"required": "Choose a kind, a model or a unit of the list."},
    )

    def clean_never(self) -> bool:
        return bool(self.cleaned_data["never"])


class CostsForm(forms.Form):
    """One field for each named cost, in the order of concern."""

    def __init__(self, data: Mapping[str, Any] | None, costs: Costs) -> None:
        super().__init__(data, initial={each.field: getattr(costs, each.field) for each in CONCERNS})
        for concern in CONCERNS:
            self.fields[concern.field] = _field(concern)

    def costs(self) -> Costs:
        """Raises KeyError for a form that isn't valid."""
        return Costs(**{each.field: self.cleaned_data[each.field] for each in CONCERNS})

    def rows(self) -> Iterator[tuple[Concern, forms.BoundField]]:
        return ((concern, self[concern.field]) for concern in CONCERNS)


def _field(concern: Concern) -> forms.IntegerField:
    usual = getattr(Costs(), concern.field)
    return forms.IntegerField(
        label=concern.name,
        help_text=f"{concern.means} Usually {usual:,}.",
        min_value=LEAST,
        max_value=MOST,
        error_messages={
            "required": f"Write a number; usually it is {usual:,}.",
            "invalid": "Write a whole number, in figures alone.",
            "min_value": "A cost can’t be below 0.",
            "max_value": f"A cost is {MOST:,} at most.",
        },
    )
