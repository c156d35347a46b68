"""The form in which something is hired in for a session."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django import forms

from bookings.models import Session
from bookings.sessions.fields import Line, WallTime, as_wall
from bookings.sessions.times import ZonedTimesForm, whiches
from studio.clock import say


class RentalForm(ZonedTimesForm):
    """It usually comes before the setup and goes back the morning after."""

    times = ("arrives_at", "back_at")

    what = Line(label="What", max_length=120, missing="What is hired in?")
    supplier = Line(label="From whom", max_length=120)
    cost = forms.DecimalField(
        label="Cost of the whole hire",
        required=False,
        min_value=0,
        max_digits=9,
        decimal_places=2,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
        error_messages={
            "invalid": "Write the cost as a number, like 40 or 40.50.",
            "min_value": "A cost can't be below 0.",
            "max_decimal_places": "A cost has at most two places after the point.",
            "max_digits": "That cost is too long to be one.",
            "max_whole_digits": "That cost is too high to be one.",
        },
    )
    arrives_at = WallTime(label="Arrives", missing="When does it arrive?")
    back_at = WallTime(label="Goes back", missing="When must it be back?")

    def __init__(self, *args: Any, session: Session, **kwargs: Any) -> None:
        self.tz = session.room.site.tz
        instants = {"arrives_at": session.setup_at, "back_at": session.clear_at + timedelta(hours=12)}
        initial = {name: as_wall(instant, self.tz) for name, instant in instants.items()}
        super().__init__(*args, initial=initial | whiches(instants, self.tz), **kwargs)

    def clean(self) -> dict[str, Any]:
        self.find_instants(self.tz)
        arrives, back = self.instants.get("arrives_at"), self.instants.get("back_at")
        if arrives and back and back <= arrives:
            self.add_error("back_at", f"It can't go back before it arrives ({say(arrives, self.tz)}).")
        return self.cleaned_data
