"""The page on which one more unit is added."""

from __future__ import annotations

from django.contrib import messages
from django.db import IntegrityError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from studio.access import Act, SignedInRequest, allowed
from studio.gear.answers import unit_address
from studio.house.add_form import AddUnitForm
from studio.house.adding import add_unit
from studio.models import GearUnit


@require_http_methods(["GET", "HEAD", "POST"])
@allowed(Act.KEEP_GEAR)
def add(request: SignedInRequest) -> HttpResponse:
    form = AddUnitForm(request.POST or None, by=request.user, initial={"what": request.GET.get("what", "")})
    if request.method == "POST" and form.is_valid():
        try:
            return _added(request, form, add_unit(form.new()))
        except IntegrityError:
            form.add_error("tag", "Somebody has just given that tag to another unit. Choose another.")
    return render(
        request, "studio/house/add.html", {"form": form}, status=422 if request.method == "POST" else 200
    )


def _added(request: SignedInRequest, form: AddUnitForm, unit: GearUnit) -> HttpResponse:
    messages.success(request, f"{unit.tag} is added: {unit.gear_model}, at {unit.site}.")
    if form.new_model:
        messages.info(request, "The model is new: say here what you know of it.")
        return redirect("studio:thing", "models", unit.gear_model_id)
    if "another" in request.POST:
        return redirect("studio:add_unit")
    return redirect(unit_address(unit.tag))
