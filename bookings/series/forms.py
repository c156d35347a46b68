"""How often, typed without knowing RRULE; and whom a change of a series is for."""

from __future__ import annotations

from typing import Any

from django import forms

from bookings.models import Session
from bookings.series.rules import RuleRefused, with_end
from bookings.series.scopes import Scope
from bookings.sessions.fields import Line

DAYS = ["MO", "TU", "WE", "TH", "FR", "SA", "SU"]
NAMES = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
UNITS = [
    ("DAILY", "days"),
    ("WEEKLY", "weeks"),
    ("MONTHLY", "months, on the same day of the month"),
    ("NTH", "months, on the same weekday of the month"),
    ("LAST", "months, on the last such weekday of the month"),
]
SCOPES = [
    (Scope.FOLLOWING.value, "this one and the following"),
    (Scope.ALL.value, "all that aren't over"),
]


class RepeatForm(forms.Form):
    every = forms.IntegerField(
        label="Every",
        initial=1,
        min_value=1,
        max_value=99,
        error_messages={
            "required": "Every how many? Write a whole number, like 2.",
            "invalid": "Write a whole number, like 2.",
            "min_value": "Every 1 is the least.",
            "max_value": "Every 99 is the most.",
        },
    )
    unit = forms.ChoiceField(label="of", choices=UNITS, initial="WEEKLY")
    days = forms.MultipleChoiceField(
        label="On these days of the week",
        help_text="Only with weeks; none: the day of the first session.",
        choices=list(zip(DAYS, NAMES, strict=True)),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    until = forms.DateField(
        label="Until",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Write the day like 2027-06-30."},
    )
    count = forms.IntegerField(
        label="or so many times",
        required=False,
        min_value=2,
        max_value=200,
        error_messages={
            "invalid": "Write a whole number, like 10.",
            "min_value": "Twice is the least.",
            "max_value": "200 times is the most.",
        },
    )
    rule = Line(
        label="or the whole rule",
        max_length=300,
        help_text="An RRULE as RFC 5545 has it, like FREQ=MONTHLY;BYDAY=2TU;COUNT=6. It goes before the fields above.",
    )
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, session: Session, **kwargs: Any) -> None:
        kwargs["initial"] = {"version": session.version}
        super().__init__(*args, **kwargs)
        self.tz = session.room.site.tz
        self.starts = session.load_in
        self.text = ""
        self.endless = False

    def clean(self) -> dict[str, Any]:
        typed = self.cleaned_data
        if typed.get("rule"):
            self._read(typed["rule"].removeprefix("RRULE:").strip())
        elif not self.errors:
            if bool(typed.get("until")) == bool(typed.get("count")):
                self.add_error("until", "Say until when, or how many times: one of the two.")
            else:
                self.text = self._rule(typed)
        return typed

    def _read(self, rule: str) -> None:
        try:
            self.text = with_end(rule, self.starts, self.tz)
        except RuleRefused as refused:
            self.add_error("rule", str(refused))
        else:
            self.endless = self.text != rule

    def _rule(self, typed: dict[str, Any]) -> str:
        unit = typed["unit"]
        parts = [f"FREQ={'MONTHLY' if unit in ('NTH', 'LAST') else unit}"]
        parts += [f"INTERVAL={typed['every']}"] if typed["every"] > 1 else []
        parts += [f"COUNT={typed['count']}"] if typed.get("count") else []
        parts += [f"UNTIL={typed['until'].isoformat().replace('-', '')}"] if typed.get("until") else []
        wall = self.starts.astimezone(self.tz)
        weekday = DAYS[wall.weekday()]
        if unit == "WEEKLY" and typed["days"]:
            parts.append(f"BYDAY={','.join(typed['days'])}")
        elif unit == "NTH":
            parts.append(f"BYDAY={(wall.day - 1) // 7 + 1}{weekday}")
        elif unit == "LAST":
            parts.append(f"BYDAY=-1{weekday}")
        return ";".join(parts)


class ScopeForm(forms.Form):
    scope = forms.ChoiceField(
        label="Which ones?",
        choices=SCOPES,
        widget=forms.RadioSelect,
        error_messages={"required": "Say which ones."},
    )
