"""A job: whose, what, and what an hour costs."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from bookings.jobs.opening import NewJob
from bookings.models import Job
from bookings.sessions.fields import KnownClients, Line, Lines


def currency_code(code: str) -> None:
    if not re.fullmatch("[A-Z]{3}", code):
        raise ValidationError("A currency is three letters, like EUR (ISO 4217).")


class JobForm(forms.Form):
    client = Line(
        label="Client",
        max_length=120,
        missing="Whose job is it? Type the client's name.",
        widget=KnownClients,
    )
    title = Line(label="Title", max_length=120, missing="Give the job a title.")
    hourly_rate = forms.DecimalField(
        label="Rate an hour",
        required=False,
        min_value=0,
        max_digits=8,
        decimal_places=2,
        localize=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
        error_messages={
            "invalid": "Write the rate as a number, like 90 or 90.50.",
            "min_value": "A rate can't be below 0.",
            "max_decimal_places": "A rate has at most two places after the point.",
            "max_digits": "That rate is too long to be one.",
            "max_whole_digits": "That rate is too high to be one.",
        },
    )
    currency = Line(label="Currency", max_length=3, missing="Which currency? Three letters, like EUR.")
    note = Lines(label="Note", max_length=5_000, rows=4)

    def clean_currency(self) -> str:
        code: str = self.cleaned_data["currency"].upper()
        currency_code(code)
        return code

    def new_job(self) -> NewJob:
        return NewJob(**self.cleaned_data)


def initial_of_job(job: Job) -> dict[str, Any]:
    return {
        "client": job.client.name,
        "title": job.title,
        "hourly_rate": job.hourly_rate,
        "currency": job.currency,
        "note": job.note,
    }
