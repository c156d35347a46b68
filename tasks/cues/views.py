"""The headphone plan of a session: on screen, in print, as CSV; mixes chosen by hand."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from bookings.models import Session
from studio.access import Act, SignedInRequest, allowed, may
from tasks.cues import hearing
from tasks.cues.choosing import CueForm, cue_forms, keep_choices, suggestions
from tasks.cues.known import cues_of, said_of_mixes
from tasks.cues.planning import Cue
from tasks.cues.sheet import mixes, sheet
from tasks.follow import replan
from tasks.models import Plan
from tasks.papers.frame import as_csv, framed

BY_PLAYER = 0


@require_http_methods(["GET", "HEAD", "POST"])
@allowed(Act.SEE_BOARD)
def cues(request: SignedInRequest, session_id: int) -> HttpResponse:
    """Who hears what. Posted: mixes by hand; the session is planned anew with them."""
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    plan = Plan.objects.filter(session=session).first()
    found = cues_of(plan) if plan else ()
    if request.method == "POST":
        typed = cue_forms(session, found, request.POST)
        if [form for form in typed if not form.is_valid()]:
            context = _context(request, session, plan, found, typed)
            return render(request, "tasks/cues/cues.html", context, status=422)
        if keep_choices(request.user, session, typed):
            said = "Kept." if replan(session.pk) else "Kept. It is planned anew within a minute."
            messages.success(request, said)
        return redirect("tasks:cues", session_id)
    return render(
        request,
        "tasks/cues/cues.html",
        _context(request, session, plan, found, cue_forms(session, found)),
    )


@require_GET
@allowed(Act.SEE_BOARD)
def cues_csv(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    plan = Plan.objects.filter(session=session).first()
    return as_csv(session, sheet(cues_of(plan) if plan else ()))


def _context(
    request: SignedInRequest,
    session: Session,
    plan: Plan | None,
    found: tuple[Cue, ...],
    typed: list[CueForm],
) -> dict[str, Any]:
    table = sheet(found)
    return {
        **framed(request, session, plan, table, BY_PLAYER),
        "rows": list(zip(found, table.rows, typed, strict=True)),
        "mixes": mixes(found),
        "suggestions": suggestions(found),
        "asked": said_of_mixes(session),
        "choosing": may(request.user, Act.PLAN) and not session.cancelled,
        **_loudness(session),
    }


def _loudness(session: Session) -> dict[str, Any]:
    """What level, kept up through the whole session, reaches each value of the directive."""
    hours = max((session.end - session.downbeat).total_seconds() / 3600, 0.25)
    values = [
        ("lower action value", hearing.LOWER_DB),
        ("upper action value", hearing.UPPER_DB),
        ("limit", hearing.LIMIT_DB),
    ]
    return {
        "hours": round(hours, 1),
        "levels": [(name, value, round(hearing.level_db(value, hours), 1)) for name, value in values],
    }
