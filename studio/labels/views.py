"""Sheets of labels to print, and the address that a label holds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_GET

from studio.access import Act, SignedInRequest, allowed
from studio.gear.answers import unit_address
from studio.labels.codes import code_svg
from studio.labels.forms import MOST, LabelForm
from studio.labels.sheets import pages, to_cut
from studio.models import GearUnit


@dataclass(frozen=True, slots=True)
class Label:
    """name is what can be typed where nothing scans; code is an <svg>."""

    name: str
    what: str
    address: str
    code: SafeString


@require_GET
@allowed(Act.KEEP_GEAR)
def labels(request: SignedInRequest) -> HttpResponse:
    form = LabelForm(request.GET or None)
    units = list(form.units()) if form.is_valid() else []
    said = form.cleaned_data if form.is_bound and form.is_valid() else {}
    found = list(labels_of(units, said.get("channels", False)))
    sheet = said.get("layout", to_cut("a4"))
    context = {
        "form": form,
        "labels": found,
        "sheet": sheet,
        "pages": list(pages(found, sheet, said.get("used") or 0)),
        "unknown": form.unknown(units) if form.is_valid() else [],
        "more": len(units) == MOST,
    }
    return render(request, "studio/labels/labels.html", context)


@require_GET
@allowed(Act.SEE_GEAR)
def scanned(request: SignedInRequest, pk: int, number: int | None = None) -> HttpResponse:
    """What a label leads to, whatever the unit is called by now."""
    unit = get_object_or_404(GearUnit, pk=pk)
    return redirect(unit_address(unit.tag, number))


def labels_of(units: Iterable[GearUnit], channels: bool) -> Iterator[Label]:
    for unit in units:
        yield _label(unit, None)
        if channels and unit.gear_model.channels > 1:
            yield from (_label(unit, channel.number) for channel in unit.channels.all())


def _label(unit: GearUnit, number: int | None) -> Label:
    address = settings.SITE_ADDRESS + label_path(unit.pk, number)
    name = f"{unit.tag} {number}" if number else unit.tag
    code = code_svg(address, f"Code of {name}")
    return Label(name, str(unit.gear_model), address, mark_safe(code))  # noqa: S308 segno's own SVG of our address


def label_path(pk: int, number: int | None = None) -> str:
    return reverse("studio:scanned", args=[pk, number] if number else [pk])
