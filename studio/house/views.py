"""Setting up the house: one list and one form for each kind of thing. Nothing is deleted here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.db import models, transaction
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from studio.access import Act, SignedInRequest, allowed, may, require
from studio.claims import Conflict
from studio.clock import say_span
from studio.house import forms as house_forms
from studio.house.room_forms import RoomForm, RoomPairForm
from studio.house.site_form import SiteForm
from studio.house.spec_forms import SpecForm, save_specs, spec_forms
from studio.models import GearModel, GearUnit, Person, Room, RoomPair, Site, Stock
from studio.signals import house_changed

A_PAGE = 100


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of thing: how it is called, who keeps it, its form, and what its list says beside the name."""

    slug: str
    one: str
    many: str
    act: Act
    model: type[models.Model]
    form: type[forms.ModelForm[Any]]
    order: tuple[str, ...]
    related: tuple[str, ...] = ()

    def rows(self) -> models.QuerySet[Any]:
        found = self.model._default_manager.select_related(*self.related).order_by(*self.order)
        return found.prefetch_related("roles_held") if self.model is Person else found


KINDS = {
    kind.slug: kind
    for kind in [
        Kind("sites", "site", "Sites", Act.SET_UP_HOUSE, Site, SiteForm, ("name",)),
        Kind(
            slug="rooms",
            one="room",
            many="Rooms",
            act=Act.SET_UP_HOUSE,
            model=Room,
            form=RoomForm,
            order=("site", "order"),
            related=("site",),
        ),
        Kind(
            slug="pairs",
            one="pair of rooms",
            many="Pairs of rooms",
            act=Act.SET_UP_HOUSE,
            model=RoomPair,
            form=RoomPairForm,
            order=("first__site", "first__order", "second__order"),
            related=("first__site", "second"),
        ),
        Kind("people", "person", "People", Act.SET_UP_HOUSE, Person, house_forms.PersonForm, ("name",)),
        Kind(
            slug="models",
            one="gear model",
            many="Gear models",
            act=Act.KEEP_GEAR,
            model=GearModel,
            form=house_forms.GearModelForm,
            order=("kind", "maker", "name"),
        ),
        Kind(
            slug="units",
            one="gear unit",
            many="Gear units",
            act=Act.KEEP_GEAR,
            model=GearUnit,
            form=house_forms.GearUnitForm,
            order=("tag",),
            related=("gear_model", "site", "home_room"),
        ),
        Kind(
            slug="stock",
            one="stock",
            many="Stock",
            act=Act.KEEP_GEAR,
            model=Stock,
            form=house_forms.StockForm,
            order=("site", "name"),
            related=("site",),
        ),
    ]
}


@require_GET
@allowed(Act.KEEP_GEAR)
def house(request: SignedInRequest) -> HttpResponse:
    kinds = [
        (kind, kind.model._default_manager.count()) for kind in KINDS.values() if may(request.user, kind.act)
    ]
    return render(request, "studio/house/house.html", {"kinds": kinds})


@require_GET
@allowed(Act.KEEP_GEAR)
def things(request: SignedInRequest, slug: str) -> HttpResponse:
    kind = _kind(request, slug)
    page = Paginator(kind.rows(), A_PAGE).get_page(request.GET.get("page"))
    return render(request, "studio/house/things.html", {"kind": kind, "page": page})


@require_http_methods(["GET", "HEAD", "POST"])
@allowed(Act.KEEP_GEAR)
def thing(request: SignedInRequest, slug: str, pk: int | None = None) -> HttpResponse:
    """Add one, or change one."""
    kind = _kind(request, slug)
    instance = get_object_or_404(kind.model, pk=pk) if pk else None
    form = kind.form(request.POST or None, instance=instance)
    specs = spec_forms(instance, request.POST or None)
    if request.method == "POST" and all([form.is_valid(), *(spec.is_valid() for spec in specs)]):
        try:
            saved = save(form, specs)
        except Conflict as conflict:
            form.add_error(None, refusal(conflict))
        else:
            messages.success(request, f"{saved} is saved.")
            if pk is None and spec_forms(saved, None):
                return redirect("studio:thing", slug, saved.pk)
            return redirect("studio:things", slug)
    context = {"kind": kind, "form": form, "specs": specs, "instance": instance}
    return render(
        request, "studio/house/thing.html", context, status=422 if request.method == "POST" else 200
    )


def save(form: forms.ModelForm[Any], specs: list[SpecForm[Any]]) -> models.Model:
    """Save, and let bookings and plans follow in the same transaction. Raises Conflict when they can't."""
    with transaction.atomic():
        saved: models.Model = form.save()
        save_specs(saved, specs)
        house_changed.send(type(saved), thing=saved)
    return saved


def refusal(conflict: Conflict) -> str:
    taken = dict.fromkeys(
        f"{c.resource} ({c.claim.reason}, {say_span(c.claim.span, timezone.get_current_timezone())})"
        for c in conflict.clashes
        if c.claim
    )
    return f"Not saved, since what is booked ahead would be in two places at once: {'; '.join(taken)}."


def _kind(request: SignedInRequest, slug: str) -> Kind:
    kind = KINDS.get(slug)
    if kind is None:
        raise Http404("There is no such list.")
    require(request.user, kind.act)
    return kind
