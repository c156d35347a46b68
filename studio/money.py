"""Amounts as people type them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms


class Money(forms.DecimalField):
    """With a decimal point or a decimal comma: 40.50 or 40,50."""

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]
        if isinstance(value, str) and value.count(",") == 1 and "." not in value:
            value = value.replace(",", ".")
        return super().to_python(value)
