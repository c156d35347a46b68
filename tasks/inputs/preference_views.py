"""The pages on which an engineer says what they always want, a manager what the house does, and what each cost is."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from bookings.models import Session
from studio.access import Act, SignedInRequest, allowed
from studio.models import Person
from tasks.catalogue.sources import FAMILIES
from tasks.inputs.preference_forms import CostsForm, PreferenceForm
from tasks.models import PlannedInput, Preference
from tasks.planning.costs import out_of_order
from tasks.preferences import NotKept, forget, name_of, of_person, prefer, things
from tasks.weighing import costs_here, weigh
from tasks.words.views import source_names


@require_http_methods(["GET", "POST"])
@allowed(Act.PLAN)
def mine(request: SignedInRequest) -> HttpResponse:
    return _page(request, request.user)


@require_http_methods(["GET", "POST"])
@allowed(Act.SET_UP_HOUSE)
def of_house(request: SignedInRequest) -> HttpResponse:
    return _page(request, None)


def _page(request: SignedInRequest, owner: Person | None) -> HttpResponse:
    form = PreferenceForm(request.POST or None)
    if form.is_valid():
        try:
            row = prefer(request.user, owner, **form.cleaned_data)
        except NotKept as problem:
            form.add_error(None, str(problem))
        else:
            messages.success(request, f"For {name_of(row)}: {row}. Plans made from now on heed it.")
            return redirect(request.path)
    context = {
        "owner": owner,
        "form": form,
        "rows": [(row, name_of(row)) for row in of_person(owner)],
        "names": [*FAMILIES, *source_names()],
        "things": things(),
    }
    return render(request, "tasks/inputs/preferences.html", context, status=422 if form.errors else 200)


@require_POST
@allowed(Act.PLAN)
def forget_one(request: SignedInRequest, preference_id: int) -> HttpResponse:
    row = Preference.objects.filter(pk=preference_id).first()
    if row is None:
        messages.info(request, "That is forgotten already.")
        return redirect("tasks:preferences")
    forget(request.user, row)
    messages.success(request, f"Forgotten: {row} for {name_of(row)}.")
    return redirect("tasks:house_preferences" if row.person_id is None else "tasks:preferences")


@require_POST
@allowed(Act.PLAN)
def always(request: SignedInRequest, session_id: int) -> HttpResponse:
    """From what was chosen by hand for one input: always use this for it. Never learned without the press."""
    session = get_object_or_404(Session, pk=session_id)
    label, wants = request.POST.get("label", "")[:120], request.POST.get("wants", "")[:160]
    row = get_object_or_404(PlannedInput, plan__session=session, label=label)
    try:
        kept = prefer(request.user, request.user, row.source, wants)
        messages.success(request, f"From now on you prefer {kept} for {name_of(kept)}.")
    except NotKept as problem:
        messages.error(request, str(problem))
    return redirect(f"{reverse('tasks:inputs', args=[session_id])}#input-{row.number}")


@require_http_methods(["GET", "POST"])
@allowed(Act.SET_UP_HOUSE)
def costs(request: SignedInRequest) -> HttpResponse:
    """What a plan weighs, by name and in order. A weighing that breaks the order is kept, with a warning."""
    form = CostsForm(request.POST or None, costs_here())
    if form.is_valid():
        kept = weigh(request.user, form.cleaned_data)
        broken = len(list(out_of_order(kept)))
        said = (
            f" The order is broken in {broken} place{'s' if broken > 1 else ''}: see below." if broken else ""
        )
        messages.success(request, f"Kept. Plans made from now on are weighed so.{said}")
        return redirect("tasks:costs")
    context = {"form": form, "broken": list(out_of_order(costs_here()))}
    return render(request, "tasks/inputs/costs.html", context, status=422 if form.errors else 200)
