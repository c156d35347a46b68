"""The fields of the booking form about its length: spare time after the end, and the hours of a lockout's days."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from django import forms

from bookings.lockouts import trouble_with
from bookings.models import SessionKind
from bookings.sessions.choices import hour_field, minutes_field
from studio.clock import say, say_length
from studio.models import Room
from studio.spans import Span

DAY_FIELDS = ("day_from", "day_to")
LONGEST = timedelta(hours=72)
LONGEST_LOCKOUT = timedelta(days=60)


class DayFields(forms.Form):
    instants: dict[str, datetime]

    spare_minutes = minutes_field(
        "Spare minutes after the end", "Agreed, kept free, and paid only if they are used."
    )
    day_from = hour_field("Hours of each day, from", "For a lockout: the room stays set in between.")
    day_to = hour_field("Hours of each day, until", "An hour before the first one is the next day's.")

    @property
    def day_hours(self) -> tuple[time, time] | None:
        start, end = self.cleaned_data.get("day_from"), self.cleaned_data.get("day_to")
        return (start, end) if start is not None and end is not None else None

    def check_order(self, room: Room, nature: str) -> None:
        if not all(name in self.instants for name in ("load_in", "downbeat", "end")):
            return
        load_in, downbeat, end = (self.instants[name] for name in ("load_in", "downbeat", "end"))
        tz = room.site.tz
        if downbeat < load_in:
            self.add_error("downbeat", f"The downbeat can't come before the load-in ({say(load_in, tz)}).")
        elif end == downbeat:
            self.add_error("end", "The session would have no length: it has to end after its downbeat.")
        elif end < downbeat:
            self.add_error("end", f"The session can't end before its downbeat ({say(downbeat, tz)}).")
        else:
            self._check_length(Span(load_in, end), nature)
            self._check_hours(Span(load_in, end), downbeat, room)

    def _check_length(self, whole: Span, nature: str) -> None:
        """A lockout, and what is no work, may take many days."""
        lockout = self.day_hours is not None
        longest = LONGEST if nature == SessionKind.Nature.WORK and not lockout else LONGEST_LOCKOUT
        if whole.length <= longest:
            return
        what = "One lockout or closure" if longest == LONGEST_LOCKOUT else "One booking"
        ways = "book day by day" if lockout else "give the hours of each day, or book day by day"
        self.add_error(
            "end",
            f"That is {say_length(whole.length)} long. {what} holds at most {say_length(longest)}: "
            f"check the date, or {ways}.",
        )

    def _check_hours(self, whole: Span, downbeat: datetime, room: Room) -> None:
        given = [name for name in DAY_FIELDS if self.cleaned_data.get(name) is not None]
        if len(given) == 1 and not set(DAY_FIELDS) & set(self.errors):
            missing = "day_to" if given == ["day_from"] else "day_from"
            self.add_error(missing, "Give both hours of the day for a lockout, or neither.")
        elif self.day_hours and "end" not in self.errors:
            for name, words in trouble_with(whole, downbeat, self.day_hours, room.site.tz):
                self.add_error(name, words)
