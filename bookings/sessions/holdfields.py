"""The fields of the booking form that say whether it is booked or held, and until when."""

from __future__ import annotations

from datetime import date

from django import forms
from django.utils import timezone

from bookings.deadlines import end_of_day
from bookings.falling import office_of
from bookings.models import Session
from bookings.sessions.fields import EARLIEST_YEAR, LATEST_YEAR, Line
from studio.models import Room

STANDS = [(Session.Status.CONFIRMED, "booked for sure"), (Session.Status.HELD, "as a hold, not owed yet")]


class HoldFields(forms.Form):
    """Held or confirmed is chosen once; afterwards only confirming changes it."""

    session: Session | None

    stands = forms.ChoiceField(
        label="How it stands",
        choices=STANDS,
        required=False,
        widget=forms.RadioSelect,
        initial=Session.Status.CONFIRMED,
        error_messages={"invalid_choice": "Choose whether it is booked for sure or held."},
    )
    hold_until = forms.DateField(
        label="The hold stands until",
        help_text="It falls when the office closes on that day. Empty: as long as holds stand here.",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Write the day like 2027-03-04."},
    )
    overrule = Line(
        label="Reason to overrule the holds", max_length=300, help_text="It is kept in the session's history."
    )

    def keep_standing(self, session: Session) -> None:
        """Leaves out what can't be chosen any more."""
        del self.fields["stands"]
        if session.status != Session.Status.HELD:
            del self.fields["hold_until"]

    def check_hold(self, room: Room) -> None:
        day = self.cleaned_data.get("hold_until")
        if self.status != Session.Status.HELD or not day or day == self._stands_until_day():
            return
        if not EARLIEST_YEAR <= day.year <= LATEST_YEAR:
            self.add_error("hold_until", f"Check the year: {day.year} is too far away.")
        elif end_of_day(day, office_of(room.site)) <= timezone.now():
            closes = f"{room.site.closes:%H:%M}"
            self.add_error(
                "hold_until", f"The office has closed on that day (at {closes}). Choose a later day."
            )

    @property
    def status(self) -> str:
        """Held or confirmed, as chosen or as it stands."""
        if self.session:
            return self.session.status
        return self.cleaned_data.get("stands") or Session.Status.CONFIRMED

    def hold_until_typed(self) -> date | None:
        day: date | None = self.cleaned_data.get("hold_until")
        return None if day == self._stands_until_day() else day

    def _stands_until_day(self) -> date | None:
        return day_of_lapse(self.session) if self.session else None


def day_of_lapse(session: Session) -> date | None:
    """The day until which a hold stands, on the site's calendar."""
    return session.lapses_at.astimezone(session.room.site.tz).date() if session.lapses_at else None
