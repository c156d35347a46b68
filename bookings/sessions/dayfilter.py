"""Filtering by a calendar day, on each site's own clock."""

from __future__ import annotations

from datetime import date
from typing import Any

import django_filters as filters
from django import forms
from django.core.exceptions import ValidationError

FIRST, LAST = date(2000, 1, 1), date(2199, 12, 1)


def near_enough(day: date) -> None:
    if not FIRST <= day < LAST:
        raise ValidationError(f"Check the year: {day.year} is too far away.")


def day_filter(method: str) -> Any:
    """A field “On the day”; the filter's own `method` looks at the sites."""
    return filters.DateFilter(
        label="On the day",
        method=method,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Write the day like 2027-03-04."},
        validators=[near_enough],
    )
