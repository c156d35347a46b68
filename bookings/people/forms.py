"""The forms of a person's page: the usual week, and leave."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from bookings.sessions.fields import Line, WallTime
from bookings.sessions.times import ZonedTimesForm
from studio.clock import say
from studio.models import Person, WorkingHours
from studio.spans import Span

WEEKDAYS = [
    (1, "Monday"),
    (2, "Tuesday"),
    (3, "Wednesday"),
    (4, "Thursday"),
    (5, "Friday"),
    (6, "Saturday"),
    (7, "Sunday"),
]
SPARE_ROWS = 2
MOST_ROWS = 42  # six a day


class HoursForm(forms.ModelForm[WorkingHours]):
    weekday = forms.TypedChoiceField(
        label="Day",
        choices=[("", "choose a day"), *WEEKDAYS],
        coerce=int,
        error_messages={"required": "Which day of the week?", "invalid_choice": "Choose a day of the list."},
    )

    class Meta:
        model = WorkingHours
        fields = ["weekday", "starts", "ends"]
        labels = {"starts": "From", "ends": "Until"}
        widgets = {
            name: forms.TimeInput(attrs={"type": "time"}, format="%H:%M") for name in ("starts", "ends")
        }
        error_messages = {
            "starts": {"required": "From when?", "invalid": "Write the hour like 10:00."},
            "ends": {"required": "Until when?", "invalid": "Write the hour like 18:00."},
        }


HoursForms = forms.inlineformset_factory(
    Person, WorkingHours, HoursForm, extra=SPARE_ROWS, max_num=MOST_ROWS, validate_max=True, can_delete=True
)


class LeaveForm(ZonedTimesForm):
    times = ("starts", "ends")

    starts = WallTime(label="From", missing="From when is it?")
    ends = WallTime(label="Until", missing="Until when is it?")
    why = Line(label="What for", max_length=120, help_text="Seen by the person and by managers only.")
    around = forms.BooleanField(
        label="Calls that stand stay: leave for the remaining time only", required=False
    )

    def __init__(self, *args: Any, person: Person, tz: Any, may_go_around: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person, self.tz = person, tz
        if not may_go_around:
            del self.fields["around"]

    def clean(self) -> dict[str, Any]:
        self.find_instants(self.tz)
        if len(self.instants) == len(self.times):
            self._check_order()
        return self.cleaned_data

    def _check_order(self) -> None:
        starts, ends = (self.instants[name] for name in self.times)
        if ends <= starts:
            self.add_error("ends", f"It has to end after it begins ({say(starts, self.tz)}).")
        elif ends <= timezone.now():
            self.add_error("ends", "That is over. Leave is entered for what is to come.")

    @property
    def span(self) -> Span:
        """Once it is clean."""
        return Span(self.instants["starts"], self.instants["ends"])
