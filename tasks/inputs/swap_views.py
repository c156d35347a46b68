"""Which sessions rely on a unit, and another one in its place in one press."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from bookings.models import Session
from studio.access import Act, SignedInRequest, allowed
from studio.gear.answers import channel_of, unit_by_tag
from studio.gear.views import number_in
from tasks.models import PlannedInput
from tasks.planning.swap import Spot
from tasks.swaps import NotSwapped, offers_for, swap, uses_of


@require_GET
@allowed(Act.SEE_GEAR)
def uses(request: SignedInRequest, tag: str) -> HttpResponse:
    """A part of the unit's page."""
    unit = unit_by_tag(tag)
    if unit is None:
        raise Http404(f"No unit is called {tag}.")
    channel = channel_of(unit, number_in(request.GET.get("channel", "")))
    context = {"uses": uses_of(unit, channel, request.user), "unit": unit, "channel": channel}
    return render(request, "tasks/inputs/uses.html", context)


@require_http_methods(["GET", "POST"])
@allowed(Act.PLAN)
def swap_input(request: SignedInRequest, session_id: int, input_id: int) -> HttpResponse:
    """Everything that could stand in on one input; a press takes it."""
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    row = PlannedInput.objects.select_related("unit", "preamp_channel__unit")
    found = row.filter(pk=input_id, plan__session=session).first()
    if request.method == "GET" and found is not None:
        context = {"session": session, "input": found, "offers": offers_for(found)}
        return render(request, "tasks/inputs/swap.html", context)
    try:
        spot = _spot(request.POST.get("spot", ""))
        after = swap(request.user, input_id, unit=request.POST.get("unit", ""), spot=spot)
        now = after.preamp_channel if spot else after.unit
        messages.success(
            request, f"Input {after.number} {after.label} has {now} now. The checklist says so too."
        )
        return redirect(f"{_inputs(session)}#input-{after.number}")
    except NotSwapped as refused:
        messages.error(request, str(refused))
    return redirect(_inputs(session))


def _inputs(session: Session) -> str:
    return reverse("tasks:inputs", args=[session.pk])


def _spot(text: str) -> Spot | None:
    """“3 Oak rack” is channel 3 of Oak rack."""
    number, _, tag = text.partition(" ")
    return (tag, int(number)) if tag and number.isascii() and number.isdigit() and len(number) < 4 else None
