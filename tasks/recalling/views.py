"""The recall sheet of a session: how each unit is set, and how it was set last for this job."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from bookings.models import Session
from studio.access import Act, SignedInRequest, allowed
from tasks.models import Plan
from tasks.recall import recall
from tasks.recalling.keeping import keep_settings, setting_forms
from tasks.recalling.known import recall_sheet


@require_http_methods(["GET", "HEAD", "POST"])
@allowed(Act.SEE_BOARD)
def recall_page(request: SignedInRequest, session_id: int) -> HttpResponse:
    """Posted: settings and photos; those of each unit are kept, or none of any."""
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    sheet = recall_sheet(session)
    posted = request.method == "POST"
    typed = setting_forms(sheet, request.POST if posted else None, request.FILES if posted else None)
    if posted and not [form for form in typed if not form.is_valid()]:
        count = keep_settings(request.user, session, typed)
        said = f"Noted for {count} {'units' if count > 1 else 'unit'}." if count else "Nothing was changed."
        messages.success(request, said)
        return redirect("tasks:recall", session_id)
    context = {
        "session": session,
        "plan": Plan.objects.filter(session=session).first(),
        "sheet": sheet,
        "forms": typed,
        "recall": recall(session),
        "now": timezone.now(),
    }
    return render(request, "tasks/recall/recall.html", context, status=422 if posted else 200)
