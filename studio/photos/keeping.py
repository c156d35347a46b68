"""Keeping a photo of a unit or of what is wrong with it."""

from __future__ import annotations

from django.core.files.base import ContentFile
from django.utils import timezone

from studio.access import Act, require
from studio.models import Fault, GearUnit, Person, Photo


def keep_photo(by: Person, unit: GearUnit, jpeg: bytes, fault: Fault | None = None) -> Photo:
    """jpeg: what studio.photos.pictures.cleaned gave. Raises PermissionDenied."""
    require(by, Act.REPORT_FAULT)
    picture = ContentFile(jpeg, name="photo.jpg")
    return Photo.objects.create(unit=unit, fault=fault, image=picture, taken_by=by, at=timezone.now())
