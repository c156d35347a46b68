"""Noting how a unit is set: words and photos, in one transaction for the whole sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.db import transaction
from django.utils import timezone

from bookings.models import Session
from studio.access import Act, require
from studio.models import Person
from studio.photos.field import PhotoField
from studio.photos.keeping import keep_photo
from tasks.follow import replan_soon
from tasks.models import UnitSetting
from tasks.recalling.known import RecallSheet, Used

MOST_WORDS = 2000
MOST_PHOTOS = 12
"""Of one unit in one session."""


class SettingForm(forms.Form):
    """How one unit is set."""

    words = forms.CharField(
        label="Settings",
        required=False,
        max_length=MOST_WORDS,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"max_length": f"Say it in {MOST_WORDS} letters or fewer; the rest can be a photo."},
    )
    photo = PhotoField(label="Photo of its face")

    def __init__(self, data: Any, files: Any, used: Used, noted: UnitSetting | None) -> None:
        self.used, self.noted = used, noted
        initial = {"words": noted.words if noted else ""}
        super().__init__(data, files, prefix=f"unit-{used.unit.pk}", initial=initial)
        self.fields["words"].widget.attrs["aria-label"] = f"Settings of {used.unit}"
        self.fields["photo"].widget.attrs["aria-label"] = f"Photo of {used.unit}"

    def clean_photo(self) -> bytes:
        photo: bytes = self.cleaned_data["photo"]
        if photo and self.noted and len(self.noted.photos.all()) >= MOST_PHOTOS:
            raise forms.ValidationError(f"There are {MOST_PHOTOS} photos of it already: that is enough.")
        return photo

    @property
    def says_something_new(self) -> bool:
        sent = f"{self.prefix}-words" in self.data
        words = self.cleaned_data["words"].strip()
        before = self.noted.words if self.noted else ""
        return bool(self.cleaned_data["photo"]) or (sent and words != before)


def setting_forms(sheet: RecallSheet, data: Any = None, files: Any = None) -> list[SettingForm]:
    return [SettingForm(data, files, used, sheet.noted.get(used.unit.pk)) for used in sheet.used]


def keep_settings(by: Person, session: Session, typed: Sequence[SettingForm]) -> int:
    """How many units were noted anew. The forms are valid. Raises PermissionDenied."""
    require(by, Act.TICK)
    changed = [form for form in typed if form.says_something_new]
    with transaction.atomic():
        for form in changed:
            unit, words = form.used.unit, form.cleaned_data["words"].strip()
            row, _ = UnitSetting.objects.update_or_create(
                session=session, unit=unit, defaults={"words": words, "by": by, "at": timezone.now()}
            )
            if photo := form.cleaned_data["photo"]:
                row.photos.add(keep_photo(by, unit, photo))
            elif not words and not row.photos.exists():
                row.delete()
        if changed:
            restore_ahead(session)
    return len(changed)


def restore_ahead(session: Session) -> None:
    """The checklists of what comes next for the job are made anew, with what there is to restore."""
    ahead = Session.objects.standing().filter(job=session.job_id, setup_at__gte=session.end)
    replan_soon(list(ahead.filter(end__gt=timezone.now()).values_list("pk", flat=True)))
