"""Choices of the booking form among what the house has: rooms, jobs, people, minutes."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from bookings.sessions.fields import OneOf
from studio.choices import SomeOf
from studio.models import Person, Room

MOST_MINUTES = 24 * 60
NOT_IN_THE_HOUSE = "One of these people isn't in the house (any more). Choose from the list."
NOT_A_ROOM = "That room isn't one of the house's. Choose one of the list."


class RoomChoice(OneOf):
    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.name}, {obj.site.name}"

    def to_python(self, value: Any) -> Any:
        try:
            return super().to_python(value)
        except ValidationError:
            if str(value).isdecimal() and (shared := Room.objects.filter(pk=value, bookable=False).first()):
                raise ValidationError(
                    f"{shared.name} is shared by rooms and can't be booked by itself: it is taken along with "
                    "the room that it is a part of. Choose one of the list."
                ) from None
            raise


class JobChoice(OneOf):
    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.client.name}: {obj.title}"


class RoomsBeside(SomeOf):
    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.name}, {obj.site.name}"


def people_field(label: str) -> SomeOf:
    return SomeOf(
        queryset=Person.objects.none(),
        label=label,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": NOT_IN_THE_HOUSE, "invalid_pk_value": NOT_IN_THE_HOUSE},
    )


def minutes_field(label: str, help_text: str) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        help_text=help_text,
        required=False,
        min_value=0,
        max_value=MOST_MINUTES,
        error_messages={
            "invalid": "Write the minutes as a whole number, like 45.",
            "min_value": "Minutes can't be fewer than 0.",
            "max_value": f"At most {MOST_MINUTES} minutes fit here (a day).",
        },
    )


def hour_field(label: str, help_text: str = "") -> forms.TimeField:
    return forms.TimeField(
        label=label,
        help_text=help_text,
        required=False,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages={"invalid": "Write the hour like 10:00."},
    )
