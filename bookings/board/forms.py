"""What board.js sends: a session as it was seen, and by how much it is to move."""

from __future__ import annotations

from typing import Any

from django import forms

from bookings.board.asked import FIRST, LAST
from bookings.board.moving import Move
from bookings.board.shifts import Shift, Times
from bookings.models import Session
from bookings.sessions.walltime import FIRST as FIRST_OF_TWO
from bookings.sessions.walltime import SECOND
from studio.models import Room

MOST_DAYS, MOST_MINUTES = 400, 40 * 24 * 60


def shift_field(most: int) -> forms.IntegerField:
    return forms.IntegerField(min_value=-most, max_value=most, required=False)


class MoveForm(forms.Form):
    """Times are instants in ISO 8601. yes: what had to be agreed to, is. An undo moves to `load_in` and the rest."""

    session = forms.ModelChoiceField(Session.objects.with_all())
    version = forms.IntegerField(min_value=1)
    room = forms.ModelChoiceField(Room.objects.select_related("site"))
    load_in = forms.DateTimeField()
    downbeat = forms.DateTimeField()
    end = forms.DateTimeField()
    days = shift_field(MOST_DAYS)
    minutes = shift_field(MOST_MINUTES)
    end_days = shift_field(MOST_DAYS)
    end_minutes = shift_field(MOST_MINUTES)
    which = forms.ChoiceField(choices=[(FIRST_OF_TWO, ""), (SECOND, "")], required=False)
    yes = forms.BooleanField(required=False)

    def clean(self) -> dict[str, Any]:
        for name in ("load_in", "downbeat", "end"):
            moment = self.cleaned_data.get(name)
            if moment and not FIRST <= moment.date() < LAST:
                self.add_error(name, "That is too far off.")
        return self.cleaned_data

    def move(self) -> Move:
        typed = self.cleaned_data
        return Move(
            typed["session"],
            typed["version"],
            Times(typed["load_in"], typed["downbeat"], typed["end"]),
            Shift(*(typed[name] or 0 for name in ("days", "minutes", "end_days", "end_minutes"))),
            typed["room"],
            typed["which"],
        )
