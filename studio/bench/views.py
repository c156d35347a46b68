"""The bench: what is broken, in which order, and what happens to it."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from studio import faults
from studio.access import Act, SignedInRequest, allowed
from studio.bench.forms import BackForm, JudgeForm, MendForm
from studio.bench.queue import Job, queue
from studio.clock import say
from studio.models import Fault


def of_open_fault(
    view: Callable[[SignedInRequest, Fault], HttpResponse],
) -> Callable[[SignedInRequest, int], HttpResponse]:
    """Hands the fault to the view; a page that is older than its mending is told so, and nothing changes."""

    @wraps(view)
    def guarded(request: SignedInRequest, pk: int) -> HttpResponse:
        found = Fault.objects.select_related("unit__site", "channel__unit")
        fault = get_object_or_404(found, pk=pk)
        if fault.closed_at is None:
            return view(request, fault)
        tz, typed = fault.unit.site.tz, request.POST.get("outcome", "").strip()[:200]
        kept = f" You had typed: “{typed}”." if typed else ""
        said = (
            f"{fault.channel or fault.unit} was mended {say(fault.closed_at, tz)}; nothing was changed.{kept}"
        )
        messages.error(request, said)
        return redirect("studio:bench")

    return guarded


@require_GET
@allowed(Act.MEND)
def bench(request: SignedInRequest) -> HttpResponse:
    return _page(request)


@require_POST
@allowed(Act.MEND)
@of_open_fault
def start(request: SignedInRequest, fault: Fault) -> HttpResponse:
    faults.start_bench(request.user, fault)
    return _done(request, fault, "is on the bench")


@require_POST
@allowed(Act.MEND)
@of_open_fault
def away(request: SignedInRequest, fault: Fault) -> HttpResponse:
    faults.send_away(request.user, fault)
    return _done(request, fault, "is away for repair")


@require_POST
@allowed(Act.MEND)
@of_open_fault
def back(request: SignedInRequest, fault: Fault) -> HttpResponse:
    form = BackForm(request.POST, tz=fault.unit.site.tz)
    if form.is_valid():
        try:
            faults.set_expected_back(request.user, fault, form.cleaned_data["back"])
            return _done(request, fault, "has a new return date")
        except faults.FaultRefused as refused:
            form.add_error("back", str(refused))
    return _page(request, fault, back=form)


@require_POST
@allowed(Act.MEND)
@of_open_fault
def judge(request: SignedInRequest, fault: Fault) -> HttpResponse:
    form = JudgeForm(request.POST)
    if form.is_valid():
        faults.set_severity(request.user, fault, form.cleaned_data["severity"])
        return _done(request, fault, f"is {fault.get_severity_display()}")
    return _page(request, fault, judge=form)


@require_POST
@allowed(Act.MEND)
@of_open_fault
def mended(request: SignedInRequest, fault: Fault) -> HttpResponse:
    form = MendForm(request.POST)
    if form.is_valid():
        faults.mend(request.user, fault, form.cleaned_data["outcome"], heard=True)
        return _done(request, fault, "is mended and free again")
    return _page(request, fault, mend=form)


def _done(request: SignedInRequest, fault: Fault, what: str) -> HttpResponse:
    messages.success(request, f"{fault.channel or fault.unit} {what}.")
    return redirect("studio:bench")


def _page(request: SignedInRequest, wrong: Fault | None = None, **bound: forms.Form) -> HttpResponse:
    """The queue; where a form was wrong, that job stands open with what was typed and why it won't do."""
    rows = [
        {"job": job, "open": job.fault == wrong, **_forms(job), **(bound if job.fault == wrong else {})}
        for job in queue()
    ]
    return render(request, "studio/bench/bench.html", {"rows": rows}, status=422 if wrong else 200)


def _forms(job: Job) -> dict[str, Any]:
    """Forms of one job; their ids carry its number, so that labels find their own field."""
    ids = f"fault-{job.fault.pk}-%s"
    return {
        "back": BackForm(tz=job.fault.unit.site.tz, initial={"back": job.fault.expected_back}, auto_id=ids),
        "mend": MendForm(auto_id=ids),
        "judge": JudgeForm(initial={"severity": job.fault.severity}, auto_id=ids),
    }
