"""What the forms of the house have in common."""

from __future__ import annotations

from typing import Any, Generic, TypeVar

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import Model

MOST = 9999
Thing = TypeVar("Thing", bound=Model)


class HouseForm(forms.ModelForm[Thing], Generic[Thing]):
    """A form whose whole numbers fit any database, refused with a sentence."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, forms.IntegerField) and not isinstance(
                field, forms.FloatField | forms.DecimalField
            ):
                field.validators = [
                    MinValueValidator(field.min_value or 0, f"At least {field.min_value or 0}."),
                    MaxValueValidator(MOST, f"At most {MOST} fits here."),
                ]
