"""What is said of where a thing is."""

from __future__ import annotations

from datetime import tzinfo
from typing import Any

from django import forms

from studio.gear.forms import NAMED, MomentField
from studio.models import Room, Stay


class RoomChoice(forms.ModelChoiceField):  # type: ignore[type-arg]
    default_error_messages = {"required": "Choose the room.", "invalid_choice": NAMED}

    def __init__(self, **kwargs: Any) -> None:
        rooms = Room.objects.select_related("site").order_by("site__name", "order", "name")
        super().__init__(rooms, empty_label=None, **kwargs)

    def label_from_instance(self, obj: Room) -> str:
        return f"{obj.name}, {obj.site.name}"


def _due(tz: tzinfo) -> MomentField:
    return MomentField(
        tz,
        later=True,
        required=False,
        label=f"Due back ({tz})",
        help_text="Leave it empty while nobody knows.",
    )


class HereForm(forms.Form):
    room = RoomChoice(label="The room you are in")


class SendForm(forms.Form):
    """Now, by whoever presses; or at a later time, as a task for whoever is there then."""

    room = RoomChoice(label="To")

    def __init__(self, *args: Any, tz: tzinfo, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["leaves_at"] = MomentField(
            tz,
            later=True,
            required=False,
            label=f"When ({tz})",
            help_text="Leave it empty if it leaves now. A later time makes it a task of that day.",
        )
        self.fields["due_at"] = _due(tz)


class HomeForm(forms.Form):
    storage = forms.CharField(label="Where in that room", max_length=120, required=False)


class LendForm(forms.Form):
    kind = forms.ChoiceField(
        label="How", choices=[(Stay.Kind.LOAN, "lent"), (Stay.Kind.HIRE_OUT, "hired out")]
    )
    holder = forms.CharField(
        label="To whom", max_length=120, error_messages={"required": "Say who takes it with them."}
    )
    remark = forms.CharField(label="Remark", max_length=300, required=False)

    def __init__(self, *args: Any, tz: tzinfo, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["due_at"] = _due(tz)


class DueForm(forms.Form):
    def __init__(self, *args: Any, tz: tzinfo, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["due_at"] = _due(tz)


class PartForm(forms.Form):
    name = forms.CharField(
        label="A part that belongs to it",
        max_length=80,
        error_messages={"required": "Name the part, like “supply” or “shock mount”."},
    )
    needed = forms.BooleanField(label="It can’t be used without", required=False, initial=True)
