"""The forms for what comes after booking: cancelling, and the times in and out."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django import forms
from django.utils import timezone

from bookings.models import Session
from bookings.sessions.dayfields import LONGEST
from bookings.sessions.fields import Line, Lines, WallTime, as_wall
from bookings.sessions.times import ZonedTimesForm, whiches
from studio.clock import say, say_length

A_MOMENT = timedelta(minutes=5)


class CancelForm(forms.Form):
    by_whom = forms.ChoiceField(
        label="Who cancels?",
        choices=Session.CancelledBy,
        widget=forms.RadioSelect,
        error_messages=dict.fromkeys(["required", "invalid_choice"], "Say who cancels: the fee hangs on it."),
    )
    because = Line(label="Why is it cancelled?", max_length=200, missing="Say in a few words why.")
    version = forms.IntegerField(widget=forms.HiddenInput)


class HandOverForm(ZonedTimesForm):
    times = ("worked_from", "worked_to")

    worked_from = WallTime(label="Time in", missing="When did the work begin?")
    worked_to = WallTime(label="Time out", missing="When did it end?")
    words = Lines(label="What the next person must know", max_length=5_000, rows=4)

    def __init__(self, *args: Any, session: Session, **kwargs: Any) -> None:
        tz = session.room.site.tz
        instants = {
            "worked_from": session.worked_from or session.load_in,
            "worked_to": session.worked_to or session.end,
        }
        initial = {name: as_wall(moment, tz) for name, moment in instants.items()}
        super().__init__(
            *args, initial=initial | whiches(instants, tz) | {"words": session.handover}, **kwargs
        )
        self.tz = tz

    def clean(self) -> dict[str, Any]:
        self.find_instants(self.tz)
        if len(self.instants) == len(self.times):
            self._check_order()
        return self.cleaned_data

    def _check_order(self) -> None:
        began, ended = (self.instants[name] for name in self.times)
        if ended <= began:
            self.add_error(
                "worked_to", f"The time out has to come after the time in ({say(began, self.tz)})."
            )
        elif ended - began > LONGEST:
            self.add_error("worked_to", f"That is {say_length(ended - began)}: check the dates.")
        elif ended > timezone.now() + A_MOMENT:
            self.add_error("worked_to", "That is still to come. Enter the times when the work is done.")
