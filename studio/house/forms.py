"""Forms for what the house is made of: people, gear models, units, stock."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.db import transaction
from django.utils import timezone

from studio.claims import in_the_way
from studio.clock import say
from studio.house.base_form import HouseForm
from studio.models import (
    Claim,
    GearModel,
    GearUnit,
    Person,
    Role,
    RoleHeld,
    Stock,
)
from studio.spans import Span, peak_use


class PersonForm(HouseForm[Person]):
    roles = forms.MultipleChoiceField(choices=Role, required=False, widget=forms.CheckboxSelectMultiple)
    password = forms.CharField(
        required=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        label="New password",
        help_text="Leave empty to keep it as it is. Nobody can sign in as a person without one.",
    )

    class Meta:
        model = Person
        fields = ["name", "username", "email", "phone", "site", "freelance", "is_active"]
        labels = {"is_active": "Works here"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.initial["roles"] = list(self.instance.roles)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        stays = cleaned.get("is_active") and Role.MANAGER in cleaned.get("roles", [])
        if self.instance.pk and Role.MANAGER in self.instance.roles and not stays:
            others = Person.objects.with_role(Role.MANAGER).exclude(pk=self.instance.pk)
            if not others.exists():
                self.add_error("roles", "The house needs a manager: make somebody else one first.")
        if self.instance.pk and not cleaned.get("is_active") and (call := self._next_call()):
            when = say(call.starts, timezone.get_current_timezone())
            self.add_error("is_active", f"Still called for “{call.reason}”, {when}: take them off it first.")
        return cleaned

    def _next_call(self) -> Claim | None:
        ahead = in_the_way([self.instance.resource_id], Span(timezone.now(), None))
        return ahead.filter(purpose=Claim.Purpose.CALL).first()

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        if password:
            validate_password(password, self.instance)
        return password

    def save(self, commit: bool = True) -> Person:
        with transaction.atomic():
            if password := self.cleaned_data["password"]:
                self.instance.set_password(password)
            elif not self.instance.pk:
                self.instance.set_unusable_password()
            person: Person = super().save(commit)
            person.roles_held.all().delete()
            # One by one: what hears of it decides what calendars tell.
            for role in self.cleaned_data["roles"]:
                RoleHeld.objects.create(person=person, role=role)
        return person


class GearModelForm(HouseForm[GearModel]):
    class Meta:
        model = GearModel
        fields = ["kind", "maker", "name", "channels", "remark"]
        help_texts = {"channels": "0 for a thing that has none, like a microphone."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk and self.instance.units.exists():
            for name in ("kind", "channels"):
                self.fields[name].disabled = True
                self.fields[name].help_text = "Fixed, since units of it exist."


class GearUnitForm(HouseForm[GearUnit]):
    class Meta:
        model = GearUnit
        fields = [
            "gear_model",
            "tag",
            "serial",
            "site",
            "home_room",
            "storage",
            "phantom",
            "value",
            "currency",
            "owner",
            "bought",
            "matched",
            "remark",
            "retired",
        ]
        help_texts = {
            "home_room": "Empty for what has no fixed room.",
            "phantom": "Only where this unit differs from its model.",
            "currency": "Three letters, like EUR; empty for the house's own.",
            "owner": "Empty for the house.",
            "bought": "As exact as is known: 2021-04-03, 2021-04 or 2021.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.fields["gear_model"].disabled = True

    def clean_tag(self) -> str:
        tag: str = self.cleaned_data["tag"].strip()
        if "/" in tag:
            raise forms.ValidationError("A tag can't hold a slash, since it is part of the unit's address.")
        return tag

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        room, site = cleaned.get("home_room"), cleaned.get("site")
        moved = {"site", "home_room"} & set(self.changed_data)  # what is away counts where it is, and may
        if moved and room and site and room.site_id != site.pk:
            self.add_error("home_room", f"{room} is at {room.site}, not at {site}. Choose one of the two.")
        return cleaned


class StockForm(HouseForm[Stock]):
    class Meta:
        model = Stock
        fields = ["site", "kind", "name", "count", "storage", "remark"]
        help_texts = {"name": "Stands are planned by name: tall boom, short boom, straight, clip."}

    def clean_count(self) -> int:
        count: int = self.cleaned_data["count"]
        if self.instance.pk:
            ahead = Span(timezone.now(), None)
            claims = in_the_way([self.instance.resource_id], ahead)
            used = peak_use([(claim.span, claim.quantity) for claim in claims], ahead)
            if count < used:
                raise forms.ValidationError(
                    f"{used} are promised to sessions at once. Change those first, or give at least {used}."
                )
        return count
