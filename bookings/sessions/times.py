"""Times typed on a site's clock, and the question which is meant when the clock shows one twice."""

from __future__ import annotations

from datetime import datetime, tzinfo
from typing import Any, ClassVar, cast

from django import forms

from bookings.sessions.walltime import FIRST, SECOND, NotOneInstant, choices_of, instant, which_of_two

WHICH = "_which"


class ZonedTimesForm(forms.Form):
    """A form with WallTime fields named in `times`; for each there is a field NAME_which for repeated hours.

    After cleaning, `instants` holds those times that name one instant, and `asked` the names to ask about.
    """

    times: ClassVar[tuple[str, ...]] = ()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instants: dict[str, datetime] = {}
        self.asked: list[str] = []
        for name in self.times:
            self.fields[name + WHICH] = forms.ChoiceField(
                label=f"Which {self.fields[name].label}",
                choices=[(FIRST, FIRST), (SECOND, SECOND)],
                required=False,
                widget=forms.RadioSelect,
                error_messages={"invalid_choice": "Choose the first or the second."},
            )

    def find_instants(self, tz: tzinfo) -> None:
        """Turns the wall times into instants on this clock; what isn't one instant becomes an error."""
        for name in self.times:
            wall = self.cleaned_data.get(name)
            if wall is None:
                continue
            try:
                self.instants[name] = instant(wall, tz, self.cleaned_data.get(name + WHICH) or "")
            except NotOneInstant as trouble:
                self.add_error(name, str(trouble))
            self._ask_which(name, wall, tz)

    def _ask_which(self, name: str, wall: datetime, tz: tzinfo) -> None:
        if which_of_two(wall.replace(tzinfo=tz), tz):
            self.asked.append(name)
            cast(forms.ChoiceField, self.fields[name + WHICH]).choices = choices_of(wall, tz)

    def questions(self) -> list[forms.BoundField]:
        """The fields to show: one for each time that comes twice."""
        return [self[name + WHICH] for name in self.asked]


def whiches(instants: dict[str, datetime], tz: tzinfo) -> dict[str, str]:
    """Initial values for the NAME_which fields."""
    return {name + WHICH: which_of_two(moment, tz) for name, moment in instants.items()}
