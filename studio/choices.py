"""A choice of several rows that survives any number somebody sends."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms
from django.core.exceptions import ValidationError

LONGEST_NUMBER = 18  # digits; more overflow the databases' 64 bits in an IN lookup

if TYPE_CHECKING:
    Several = forms.ModelMultipleChoiceField[Any]
else:
    Several = forms.ModelMultipleChoiceField


class SomeOf(Several):
    def clean(self, value: Any) -> Any:
        if any(len(str(each)) > LONGEST_NUMBER for each in value or []):
            raise ValidationError(self.error_messages["invalid_choice"], params={"value": "that number"})
        return super().clean(value)
