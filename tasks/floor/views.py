"""The floor plan of a session: on screen, in print, as CSV, and moved by hand."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from bookings.models import Session
from studio.access import Act, SignedInRequest, allowed, may
from tasks.floor.cables import THE_RULE
from tasks.floor.known import plan_of
from tasks.floor.moving import PlaceForm, keep_moves, moves_of, place_forms, refusals
from tasks.floor.picture import in_words, picture, sheet
from tasks.floor.records import FloorPlan
from tasks.models import Plan, PlannedInput
from tasks.papers.frame import as_csv, framed

BY_SOURCE = 1


@require_http_methods(["GET", "HEAD", "POST"])
@allowed(Act.SEE_BOARD)
def floor(request: SignedInRequest, session_id: int) -> HttpResponse:
    """Where everything stands. Posted: where somebody has put it; all of it is kept, or nothing."""
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    plan = Plan.objects.filter(session=session).first()
    made = _made(session)
    if request.method != "POST":
        return render(request, "tasks/floor/floor.html", _context(request, session, plan, made))
    typed = place_forms(made, request.POST)
    moves, wrong = moves_of(typed)
    wrong = wrong or refusals(made, moves)
    if wrong:
        context = _context(request, session, plan, made, typed) | {"wrong": wrong}
        page = "tasks/floor/plan.html" if request.htmx else "tasks/floor/floor.html"
        return render(request, page, context, status=422)
    keep_moves(request.user, session, moves)
    if request.htmx:
        context = _context(request, session, plan, _made(session)) | {"kept": bool(moves.to or moves.back)}
        return render(request, "tasks/floor/plan.html", context)
    messages.success(request, "Kept for this session." if moves.to or moves.back else "Nothing was moved.")
    return redirect("tasks:floor", session_id)


@require_GET
@allowed(Act.SEE_BOARD)
def floor_csv(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    return as_csv(session, sheet(_made(session)))


def _made(session: Session) -> FloorPlan:
    return plan_of(session, PlannedInput.objects.filter(plan__session=session).select_related("unit"))


def _context(
    request: SignedInRequest,
    session: Session,
    plan: Plan | None,
    made: FloorPlan,
    typed: list[PlaceForm] | None = None,
) -> dict[str, Any]:
    table = sheet(made)
    forms = typed or place_forms(made)
    return {
        **framed(request, session, plan, table, BY_SOURCE),
        "made": made,
        "picture": picture(made),
        "in_words": in_words(made),
        "the_rule": THE_RULE,
        "rows": list(zip(made.places, table.rows, forms, strict=True)),
        "moving": may(request.user, Act.TICK) and not session.cancelled and bool(made.places),
        "several": len(made.floor.areas) > 1,
    }
