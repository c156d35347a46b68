"""One more unit: what it is, and what else somebody likes to say. The rest has its own form later."""

from __future__ import annotations

from typing import Any

from django import forms
from rapidfuzz import fuzz, process

from studio.house.adding import HAVE_CHANNELS, New, kind_of, known_models
from studio.models import GearModel, GearUnit, Person, Site

MOST_CHANNELS = 512
NEAR = 75


class AddUnitForm(forms.Form):
    """Kind and channels are asked only of a model that the house hasn't yet, with what its name says of them."""

    what = forms.CharField(
        label="What is it?",
        max_length=80,
        help_text="A model that the house has, or the name of a new one.",
        widget=forms.TextInput(attrs={"list": "models", "autocomplete": "off", "autofocus": True}),
        error_messages={"required": "Say what it is: maker and model, or any name."},
    )
    kind = forms.ChoiceField(
        label="The model is new: what kind of thing is it?",
        choices=[("", "choose"), *GearModel.Kind.choices],
        required=False,
        error_messages={"invalid_choice": "Choose one of the list."},
    )
    channels = forms.IntegerField(
        label="How many channels has it?",
        required=False,
        min_value=0,
        max_value=MOST_CHANNELS,
        help_text="This can’t be changed once there is a unit of it.",
        error_messages={
            "invalid": "Write the number of channels, like 8.",
            "min_value": "0 for a thing that has none.",
            "max_value": f"At most {MOST_CHANNELS} channels.",
        },
    )
    tag = forms.CharField(max_length=40, required=False, help_text="Empty: the next one of its series.")
    serial = forms.CharField(label="Serial number", max_length=60, required=False)
    site = forms.ModelChoiceField(
        Site.objects.order_by("name"),
        empty_label=None,
        error_messages={"invalid_choice": "Choose one of the list.", "required": "Choose a site."},
    )

    def __init__(self, *args: Any, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sites = list(Site.objects.order_by("name")[:2])
        if not sites:
            self.fields["site"].error_messages["required"] = (
                "There is no site yet: a manager adds one under House."
            )
        self.only_site = sites[0] if len(sites) == 1 else None
        if self.only_site:
            del self.fields["site"]
        elif by.site:
            self.fields["site"].initial = by.site
        self.new_model = False

    def shown(self) -> list[forms.BoundField]:
        """What is asked: of a known model neither kind nor channels."""
        hidden = set() if self.new_model else {"kind", "channels"}
        self.fields["kind"].required = self.new_model
        return [field for field in self if field.name not in hidden]

    @property
    def models(self) -> list[str]:
        return [str(model) for model in GearModel.objects.all()]

    def clean_tag(self) -> str:
        tag: str = self.cleaned_data["tag"]
        if "/" in tag:
            raise forms.ValidationError("A tag can’t hold a slash, since it is part of the unit’s address.")
        if tag and GearUnit.objects.filter(tag__iexact=tag).exists():
            raise forms.ValidationError(f"{tag} is another unit’s tag. Choose another, or leave it empty.")
        return tag

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if what := cleaned.get("what"):
            models = known_models(what)
            if len(models) > 1:
                self.add_error("what", f"Which one: {' or '.join(map(str, models))}? Write the maker too.")
            cleaned["model"] = models[0] if models else None
            self.new_model = not models
            said = cleaned.get("kind") or ""
            cleaned["read"] = kind_of(what, said, cleaned.get("channels"))
            if self.new_model:
                self._ask_for_the_rest(what)
        return cleaned

    def _ask_for_the_rest(self, what: str) -> None:
        """Kind and channels are for good, so what the name says of them is shown before it is taken."""
        kind = self.cleaned_data["read"]
        if not self.cleaned_data.get("kind") and "kind" not in self.errors:
            near = process.extractOne(what, self.models, scorer=fuzz.WRatio, score_cutoff=NEAR)
            meant = f" Or did you mean {near[0]}?" if near else ""
            self.add_error("kind", f"The house has no model “{what}” yet. What kind of thing is it?{meant}")
            said = {"kind": kind.name, "channels": str(kind.channels or self.data.get("channels", ""))}
            self.data = {**dict(self.data.items()), **said}
        elif (
            kind.name in HAVE_CHANNELS and not kind.channels and self.cleaned_data.get("channels", 0) is None
        ):
            self.add_error("channels", "It is used channel by channel: how many are there? 0 for none.")

    def new(self) -> New:
        """Of a form that is valid."""
        said = self.cleaned_data
        site = self.only_site or said["site"]
        return New(said["what"], said["model"], said["read"], site, said["tag"], said["serial"])
