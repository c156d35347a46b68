"""May this session go on? The page, and the press."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from bookings.booking import Stale
from bookings.ladder import PastHolds
from bookings.models import Session
from bookings.overrun import CantRunOn, may_run_on, run_on, running_on
from bookings.saying import hold_sentences
from bookings.words import clash_sentences
from studio.access import Act, SignedInRequest, allowed
from studio.claims import Conflict
from studio.clock import say


@require_http_methods(["GET", "POST"])
@allowed(Act.RUN_ON)
def run_on_session(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    if request.method == "GET":
        if not may_run_on(session, timezone.now()):
            messages.info(request, "It isn't running now, so there is nothing to go on with.")
            return redirect("bookings:session", session_id)
        return run_on_page(request, session)
    until = until_asked(request)
    if until is None:
        return run_on_page(request, session, ["Choose until when it goes on."])
    refused = try_to_run_on(request, session, until)
    if refused:
        session = get_object_or_404(Session.objects.with_all(), pk=session_id)
        return run_on_page(request, session, refused)
    words = f"It goes on until {say(until, session.room.site.tz)}. Those concerned are told."
    messages.success(request, words)
    return redirect("bookings:session", session_id)


def try_to_run_on(request: SignedInRequest, session: Session, until: datetime) -> list[str]:
    """Sentences that say why it can't; none when it is booked."""
    version, tz = request.POST.get("version", ""), session.room.site.tz
    overrule = request.POST.get("overrule", "")
    try:
        run_on(request.user, session.pk, int(version) if version.isdecimal() else 0, until, overrule)
    except CantRunOn as reason:
        return [str(reason)]
    except Stale:
        return ["It was changed while this page was open. This is how it stands now: press again."]
    except Conflict as conflict:
        return clash_sentences(conflict.clashes, tz)
    except PastHolds as past:
        return [*hold_sentences(past.holds, tz), "Write down why they give way, and press again."]
    return []


def until_asked(request: SignedInRequest) -> datetime | None:
    try:
        until = datetime.fromisoformat(request.POST.get("until", ""))
    except ValueError:
        return None
    return until if until.tzinfo else None


def run_on_page(request: SignedInRequest, session: Session, refused: list[str] | None = None) -> HttpResponse:
    ways = running_on(session, timezone.now())
    context = {
        "session": session,
        "ways": ways,
        "tz": session.room.site.tz,
        "refused": refused,
        "holds": any(option.holds for option in ways.options),
        "overrule": request.POST.get("overrule", ""),
    }
    return render(request, "bookings/sessions/run_on.html", context, status=422 if refused else 200)
