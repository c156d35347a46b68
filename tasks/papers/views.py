"""The papers of a session: on screen, in print, as CSV."""

from __future__ import annotations

import csv

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from bookings.models import Session
from studio.access import Act, SignedInRequest, allowed
from studio.importing.table import neutralised
from tasks.models import Plan
from tasks.papers import sheets
from tasks.papers.forms import RecordingForm
from tasks.papers.reading import look_at, readers, rows_of
from tasks.papers.storage import clock
from tasks.recall import recall


@require_GET
@allowed(Act.SEE_BOARD)
def papers(request: SignedInRequest, session_id: int) -> HttpResponse:
    """Every sheet, after what has changed since the reader last looked."""
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    rows = rows_of(session)
    plan = Plan.objects.filter(session=session).prefetch_related("unfilled").first()
    form = RecordingForm(request.GET, session=session, tracks=len(rows))
    recording = form.recording()
    context = {
        "session": session,
        "plan": plan,
        "news": look_at(session, request.user, rows) if plan else None,
        "sheets": sheets.papers(rows) if rows else [],
        "readers": readers(session, rows) if plan else [],
        "recall": recall(session) if plan else None,
        "form": form,
        "recording": recording,
        "full_mono": clock(recording.until_full()) if recording else "",
        "full_all": clock(recording.until_full(recording.tracks)) if recording else "",
        "now": timezone.now(),
    }
    return render(request, "tasks/papers/papers.html", context)


@require_GET
@allowed(Act.SEE_BOARD)
def as_csv(request: SignedInRequest, session_id: int, name: str) -> HttpResponse:
    """One sheet, with a mark by which spreadsheet programs know UTF-8, and no cell that one would compute."""
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    make = sheets.MAKERS.get(name)
    if make is None:
        raise Http404("There is no such sheet.")
    sheet = make(rows_of(session))
    response = HttpResponse("\ufeff", content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="session-{session.pk}-{name}.csv"'
    writer = csv.writer(response)
    writer.writerow(sheet.headings)
    writer.writerows([neutralised(cell) for cell in row] for row in sheet.rows)
    return response
