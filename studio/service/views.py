"""Pages about service: the plans, one plan, one thing of a plan with its slot and what was done."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.access import Act, SignedInRequest, allowed
from studio.clock import say_span
from studio.models import Fault, ServiceDone, ServicePlan
from studio.service.doing import ServiceRefused, done, give_up_slot, save_plan, take_slot
from studio.service.forms import DoneForm, PlanForm, SlotForm
from studio.service.intervals import SAID
from studio.service.rounds import Item, items, key_of
from studio.service.slots import offered

RECORDS = 20


@require_GET
@allowed(Act.MEND)
def plans(request: SignedInRequest) -> HttpResponse:
    """Every plan with what it is for, those that have ended last."""
    now = timezone.now()
    by_plan: dict[int, list[Item]] = {}
    for item in items(now):
        by_plan.setdefault(item.plan.pk, []).append(item)
    found = ServicePlan.objects.select_related("unit", "stock", "gear_model").order_by("ended", "what", "pk")
    rows = [(plan, _soonest(by_plan.get(plan.pk, []))) for plan in found]
    return render(request, "studio/service/plans.html", {"rows": rows, "said": SAID})


def _soonest(found: list[Item]) -> list[Item]:
    return sorted(found, key=lambda item: (item.due.at is None, item.due.at, item.key))


@require_http_methods(["GET", "HEAD", "POST"])
@allowed(Act.MEND)
def plan(request: SignedInRequest, pk: int | None = None) -> HttpResponse:
    """Make a plan, or change one."""
    instance = get_object_or_404(ServicePlan.objects.select_related("unit"), pk=pk) if pk else None
    form = PlanForm(request.POST or None, instance=instance)
    if request.method == "POST" and form.is_valid():
        saved = save_plan(request.user, form.save(commit=False))
        messages.success(request, f"{saved} is saved.")
        return redirect("studio:service_plans")
    context = {"form": form, "plan": instance, "said": SAID}
    return render(request, "studio/service/plan.html", context, status=422 if form.errors else 200)


@require_GET
@allowed(Act.MEND)
def one(request: SignedInRequest, pk: int, key: str) -> HttpResponse:
    return _one(request, _item(pk, key))


@require_POST
@allowed(Act.MEND)
def slot(request: SignedInRequest, pk: int, key: str) -> HttpResponse:
    item = _item(pk, key)
    form = SlotForm(request.POST, tz=item.tz)
    if form.is_valid():
        try:
            span = take_slot(request.user, item.plan, key, form.cleaned_data["start"])
        except ServiceRefused as refused:
            form.add_error("start", str(refused))
        else:
            messages.success(request, f"{item.thing}: {item.plan.what}, {say_span(span, item.tz)}.")
            return redirect("studio:bench")
    return _one(request, item, slot=form)


@require_POST
@allowed(Act.MEND)
def no_slot(request: SignedInRequest, pk: int, key: str) -> HttpResponse:
    item = _item(pk, key)
    give_up_slot(request.user, item.plan, key)
    messages.success(request, f"{item.thing} is free again then; it is still due.")
    return redirect("studio:service_one", pk, key)


@require_POST
@allowed(Act.MEND)
def finish(request: SignedInRequest, pk: int, key: str) -> HttpResponse:
    item = _item(pk, key)
    form = DoneForm(request.POST, plan=item.plan)
    if form.is_valid():
        said = form.cleaned_data
        try:
            outcome = done(request.user, item.plan, key, said["note"], said["result"] == "passed")
        except ServiceRefused as refused:
            form.add_error("result", str(refused))
        else:
            return _finished(request, item, outcome)
    return _one(request, item, done=form)


def _finished(request: SignedInRequest, item: Item, outcome: ServiceDone | Fault) -> HttpResponse:
    if isinstance(outcome, Fault):
        messages.success(request, f"{item.thing} is out of use, and stays due until it has passed.")
        return redirect("studio:bench_job", outcome.pk)
    messages.success(request, f"{item.thing}: {item.plan.what} is done, and counted anew from now on.")
    return redirect("studio:bench")


def _item(pk: int, key: str) -> Item:
    plans = ServicePlan.objects.select_related("unit", "stock__site", "gear_model")
    plan = get_object_or_404(plans, pk=pk, ended=False)
    found = [item for item in items(timezone.now(), [plan]) if item.key == key]
    if not found:
        raise Http404("This plan is for nothing of that name.")
    return offered(found)[0]


def _one(request: SignedInRequest, item: Item, **bound: Any) -> HttpResponse:
    """One thing of a plan; a form that was wrong stands there with what was typed."""
    of_thing = {"unit": item.thing} if key_of(item.thing).startswith("unit") else {"stock": item.thing}
    context = {
        "item": item,
        "slot": SlotForm(tz=item.tz, initial={"start": item.offered}),
        "done": DoneForm(plan=item.plan),
        "records": item.plan.done.filter(**of_thing).select_related("by")[:RECORDS],
        **bound,
    }
    return render(request, "studio/service/one.html", context, status=422 if bound else 200)
