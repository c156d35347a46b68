"""The page on which a room is counted: a box for a scanner, what is still to find, what is too many."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from studio.access import Act, SignedInRequest, allowed
from studio.models import Room, StockTake
from studio.whereabouts import counting

COUNTING = "counting"
"""The count that this person has open: the page of a unit whose label was scanned offers to count it there."""


def count_going_on(request: SignedInRequest) -> StockTake | None:
    """One query where there is one."""
    if not (pk := request.session.get(COUNTING)):
        return None
    return StockTake.objects.filter(pk=pk, closed_at__isnull=True).select_related("room").first()


@require_POST
@allowed(Act.MOVE_GEAR)
def begin(request: SignedInRequest, pk: int) -> HttpResponse:
    room = get_object_or_404(Room, pk=pk)
    return redirect("studio:count", counting.begin(request.user, room).pk)


@require_http_methods(["GET", "POST"])
@allowed(Act.MOVE_GEAR)
def count(request: SignedInRequest, pk: int) -> HttpResponse:
    """A scanner that types sends each label with Enter; several tags may be pasted, one a line."""
    found = get_object_or_404(StockTake.objects.select_related("room__site", "begun_by"), pk=pk)
    request.session[COUNTING] = None if found.closed_at else found.pk
    said, wrong, typed = "", "", ""
    if request.method == "POST":
        typed = request.POST.get("text", "")
        try:
            said, typed = _scanned(request, found, typed), ""
        except counting.CountRefused as refused:
            wrong = str(refused)
    context = {
        "count": found,
        "outcome": counting.outcome(found),
        "said": said,
        "wrong": wrong,
        "typed": typed,
        "tz": found.room.site.tz,
    }
    return render(request, "studio/whereabouts/count.html", context, status=422 if wrong else 200)


@require_POST
@allowed(Act.MOVE_GEAR)
def close(request: SignedInRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(StockTake.objects.select_related("room__site"), pk=pk)
    try:
        counting.close(request.user, found, _numbers(request.POST, "lost"), _numbers(request.POST, "stay"))
    except counting.CountRefused as refused:
        messages.error(request, str(refused))
        return redirect("studio:count", pk)
    request.session[COUNTING] = None
    messages.success(request, f"{found.room.name} is counted.")
    return redirect("studio:room_sheet", found.room_id)


def _scanned(request: SignedInRequest, found: StockTake, text: str) -> str:
    lines = [line for line in text.splitlines() if line.strip()][:500] or [""]
    rows = [counting.scan(request.user, found, line) for line in lines]
    last = rows[-1]
    name = last.unit.tag if last.unit else f"“{last.text}”, a label that no unit has"
    return f"{len(rows)} read, last {name}" if len(rows) > 1 else f"Read: {name}"


def _numbers(posted: QueryDict, name: str) -> list[int]:
    return [
        int(text) for text in posted.getlist(name) if text.isascii() and text.isdigit() and len(text) < 16
    ]
