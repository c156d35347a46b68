"""The signal chain of one input on demand, all of a session as one sheet, and the choice of what is inserted."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from bookings.models import Session
from studio.access import Act, SignedInRequest, allowed, may
from tasks.chains.reading import inputs_with_chains, picture_of
from tasks.chains.wishing import MOST, USUAL, NotWished, offered, wish_for, wished
from tasks.models import Plan, PlannedInput


@require_GET
@allowed(Act.SEE_BOARD)
def chain(request: SignedInRequest, session_id: int, input_id: int) -> HttpResponse:
    """A part of the page of inputs; a page of its own where there is no script."""
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    row = get_object_or_404(inputs_with_chains(session).select_related("plan"), pk=input_id)
    choosing = may(request.user, Act.PLAN) and not session.cancelled
    ids, by_hand = wished(row)
    context = {
        "session": session,
        "input": row,
        "picture": picture_of(row),
        "choosing": choosing,
        "by_hand": by_hand,
        "places": [(n, ids[n - 1] if n <= len(ids) else "") for n in range(1, MOST + 1)],
        "offered": offered(),
        "part": bool(request.htmx),
    }
    return render(request, "tasks/chains/part.html" if request.htmx else "tasks/chains/chain.html", context)


@require_GET
@allowed(Act.SEE_BOARD)
def chains(request: SignedInRequest, session_id: int) -> HttpResponse:
    """Every input's picture, to print."""
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    rows = inputs_with_chains(session)
    context = {
        "session": session,
        "plan": Plan.objects.filter(session=session).first(),
        "pictures": [(row, picture_of(row)) for row in rows],
        "now": timezone.now(),
    }
    return render(request, "tasks/chains/chains.html", context)


@require_POST
@allowed(Act.PLAN)
def choose(request: SignedInRequest, session_id: int, input_id: int) -> HttpResponse:
    row = get_object_or_404(
        PlannedInput.objects.select_related("plan"), pk=input_id, plan__session=session_id
    )
    chosen = [name for name in request.POST.getlist("insert") if name]
    try:
        planned = wish_for(request.user, row, None if USUAL in request.POST else chosen)
    except NotWished as refused:
        messages.error(request, str(refused))
    else:
        later = "" if planned else " It could not be planned just now and is tried again within a minute."
        messages.success(request, f"Noted what is to be inserted on input {row.number} {row.label}.{later}")
    return redirect(f"{reverse('tasks:inputs', args=[session_id])}#input-{row.number}")
