"""The bench: what is broken, in which order, and what happens to it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from studio.access import Act, SignedInRequest, allowed
from studio.bench.forms import StepForm
from studio.bench.queue import AWAY, OF_JOB, Job, jobs_of, queue
from studio.bench.record import record_of
from studio.bench.steps import STEPS, Step
from studio.clock import say
from studio.faults import FaultRefused
from studio.models import Fault
from studio.service.slots import falling_due

UNHEARD = Fault.Step.UNHEARD


@require_GET
@allowed(Act.MEND)
def bench(request: SignedInRequest) -> HttpResponse:
    due = falling_due()
    context = {
        "groups": list(_groups(queue())),
        "falling_due": due,
        "electrical_due": any(item.plan.electrical for item in due),
    }
    return render(request, "studio/bench/bench.html", context)


def _groups(jobs: list[Job]) -> Iterable[tuple[str, str, list[Job]]]:
    """The queue in its order: what can be mended here, what is elsewhere, what only wants hearing."""
    away = [job for job in jobs if job.fault.step in AWAY]
    unheard = [job for job in jobs if job.fault.step == UNHEARD]
    here = [job for job in jobs if job.fault.step not in {*AWAY, UNHEARD}]
    yield "mend", "To mend", here
    yield "away", "Away, or waiting for parts", away
    yield "unheard", "Back, not yet heard in use", unheard


@require_GET
@allowed(Act.MEND)
def job(request: SignedInRequest, pk: int) -> HttpResponse:
    return _page(request, _fault(pk))


@require_POST
@allowed(Act.MEND)
def step(request: SignedInRequest, pk: int, what: str) -> HttpResponse:
    """One step of a repair. A page that is older than its mending is told so, and nothing changes."""
    fault, taken = _fault(pk), STEPS.get(what)
    if taken is None:
        raise Http404(f"There is no step {what}.")
    if fault.closed_at is not None:
        return _too_late(request, fault)
    form = taken.form(request.POST, request.FILES, fault=fault)
    if form.is_valid() and _taken(request, fault, taken, form):
        messages.success(request, f"{fault.channel or fault.unit} {taken.said(fault, form.cleaned_data)}.")
        if Fault.objects.open().filter(pk=pk).exists():
            return redirect("studio:bench_job", pk)
        return redirect("studio:bench")
    return _page(request, fault, what, form)


def _fault(pk: int) -> Fault:
    return get_object_or_404(Fault.objects.select_related(*OF_JOB).prefetch_related("unit__channels"), pk=pk)


def _taken(request: SignedInRequest, fault: Fault, taken: Step, form: StepForm) -> bool:
    """Whether the step was taken; the form says why not."""
    try:
        taken.act(request.user, fault, form.cleaned_data)
    except FaultRefused as refused:
        form.add_error(next(reversed(form.fields), None), str(refused))
        return False
    return True


def _too_late(request: SignedInRequest, fault: Fault) -> HttpResponse:
    typed = next(
        (request.POST[name] for name in ("outcome", "note", "parts", "to") if name in request.POST), ""
    )
    kept = f" You had typed: “{typed.strip()[:200]}”." if typed.strip() else ""
    when = say(fault.closed_at, fault.unit.site.tz) if fault.closed_at else ""
    name = fault.channel or fault.unit
    messages.error(request, f"{name} was mended {when}; nothing was changed.{kept}")
    return redirect("studio:bench")


def _page(
    request: SignedInRequest, fault: Fault, what: str = "", wrong: StepForm | None = None
) -> HttpResponse:
    """One repair; where a form was wrong it stands open with what was typed and why it won't do."""
    forms: dict[str, Any] = {
        name.replace("-", "_"): wrong if wrong and name == what else step.form(fault=fault)
        for name, step in STEPS.items()
    }
    (found,) = jobs_of([fault])
    context = {"job": found, "fault": fault, "record": record_of(fault), "forms": forms, "open": what}
    return render(request, "studio/bench/job.html", context, status=422 if wrong else 200)
