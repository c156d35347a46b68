"""The page of the count after breakdown."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from bookings.models import Session
from studio.access import Act, SignedInRequest, allowed
from studio.whereabouts.counting import CountRefused
from tasks.losses.counting_back import COUNT, count_back, had


@require_http_methods(["GET", "POST"])
@allowed(Act.TICK)
def count(request: SignedInRequest, session_id: int) -> HttpResponse:
    """Everything counts as back until it is said to be missing."""
    session = get_object_or_404(Session.objects.with_all().seen_by(request.user), pk=session_id)
    there, wrong = had(session), ""
    if request.method == "POST":
        try:
            units = [pk for text in request.POST.getlist("missing") if (pk := _whole(text)) is not None]
            stock = {each.pk: _number(request.POST, f"stock-{each.pk}") for each, _ in there.counted}
            raised = count_back(request.user, session, units, stock)
        except CountRefused as refused:
            wrong = str(refused)
        else:
            said = f"Missing, and raised: {', '.join(raised)}." if raised else "Everything is back."
            messages.success(request, said)
            return redirect("tasks:checklist", session_id)
    missing = request.POST.getlist("missing")
    context = {
        "session": session,
        "units": [(unit, str(unit.pk) in missing) for unit in there.units],
        "counts": [
            (title, [(s, most, request.POST.get(f"stock-{s.pk}", "0")) for s, most in stocks])
            for title, stocks in [
                ("Stands and cables, by count", there.stocks),
                ("Other cables", there.cables),
            ]
            if stocks
        ],
        "done": session.tasks.filter(key=COUNT, done_at__isnull=False).first(),
        "wrong": wrong,
    }
    return render(request, "tasks/losses/count.html", context, status=422 if wrong else 200)


def _number(posted: QueryDict, name: str) -> int:
    text = posted.get(name, "").strip()
    if (number := _whole(text or "0")) is None:
        raise CountRefused(f"“{text[:20]}” is no count. Write how many are missing, 0 for none.")
    return number


def _whole(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 9 else None
