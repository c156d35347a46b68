"""The form in which something is hired in for a session."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django import forms

from bookings.models import Rental, Session
from bookings.sessions.fields import Line, WallTime, as_wall
from bookings.sessions.times import ZonedTimesForm, whiches
from studio.clock import say
from studio.models import GearModel
from studio.money import Money


class RentalForm(ZonedTimesForm):
    """It usually comes before the setup and goes back the morning after."""

    times = ("arrives_at", "back_at")

    what = Line(label="What", max_length=120, missing="What is hired in?")
    supplier = Line(label="From whom", max_length=120)
    cost = Money(
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

    def __init__(self, *args: Any, session: Session, rental: Rental | None = None, **kwargs: Any) -> None:
        """rental: the line that is changed, None for a new one."""
        self.tz = session.room.site.tz
        instants = {"arrives_at": session.setup_at, "back_at": session.clear_at + timedelta(hours=12)}
        initial: dict[str, Any] = {}
        if rental is not None:
            instants = {"arrives_at": rental.arrives_at, "back_at": rental.back_at}
            initial = {"what": rental.what, "supplier": rental.supplier, "cost": rental.cost}
        initial |= {name: as_wall(instant, self.tz) for name, instant in instants.items()}
        super().__init__(*args, initial=initial | whiches(instants, self.tz), **kwargs)

    def clean(self) -> dict[str, Any]:
        self.find_instants(self.tz)
        arrives, back = self.instants.get("arrives_at"), self.instants.get("back_at")
        if arrives and back and back <= arrives:
            self.add_error("back_at", f"It can't go back before it arrives ({say(arrives, self.tz)}).")
        return self.cleaned_data


class UnitForm(forms.Form):
    """A model that the house knows brings its figures along; else the kind alone, and figures can be added later."""

    tag = Line(label="Tag", max_length=40, missing="Give it a tag, to write on a label.")
    gear_model = forms.ModelChoiceField(
        GearModel.objects.order_by("kind", "maker", "name"),
        label="Same model as",
        required=False,
        empty_label="none of ours",
        help_text="Brings its figures along. The planner takes a microphone, DI box or preamp only with them.",
    )
    kind = forms.ChoiceField(
        label="Else, its kind",
        required=False,
        choices=[("", "choose a kind"), *GearModel.Kind.choices],
    )
    channels = forms.IntegerField(label="Channels", required=False, min_value=0, max_value=128)

    def clean(self) -> dict[str, Any]:
        if not self.cleaned_data.get("gear_model") and not self.cleaned_data.get("kind"):
            self.add_error("kind", "Choose a model that is the same, or at least the kind.")
        return self.cleaned_data

    def model_meant(self, name: str) -> GearModel:
        if chosen := self.cleaned_data["gear_model"]:
            return chosen  # type: ignore[no-any-return]
        made, _ = GearModel.objects.get_or_create(
            maker="",
            name=name[:80],
            defaults={
                "kind": self.cleaned_data["kind"],
                "channels": self.cleaned_data["channels"] or 0,
            },
        )
        return made
