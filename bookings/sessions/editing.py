"""The booking form: a new session, a changed one, and the answer while it is filled in."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from bookings.booking import Stale
from bookings.ladder import PastHolds
from bookings.models import Client, Session
from bookings.obstacles import explained
from bookings.saying import hold_sentences
from bookings.series.forms import ScopeForm
from bookings.sessions.answer import answer, typed_so_far
from bookings.sessions.filling import filled
from bookings.sessions.forms import SessionForm, as_posted
from bookings.sessions.meeting import meet
from bookings.sessions.saving import save_change, save_new
from bookings.words import NO_CHANGE, difference
from studio.access import Act, SignedInRequest, allowed
from studio.claims import Conflict
from studio.models import Site

USUAL_TIMES = {"load_in": time(9), "downbeat": time(10), "end": time(18)}
CLIENTS_OFFERED = 500


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def new_session(request: SignedInRequest) -> HttpResponse:
    if request.method == "GET":
        return form_page(request, SessionForm(initial=asked_for(request)))
    form = SessionForm(request.POST)
    if not form.is_valid():
        return form_page(request, form)
    if (first := booked_before(form)) and typed_otherwise(form, first):
        return sent_before(request, form, first)
    try:
        booked = save_new(request.user, form)
    except Conflict as conflict:
        return taken_meanwhile(request, form, conflict)
    except PastHolds as past:
        return past_holds(request, form, past)
    done = "held" if booked.status == Session.Status.HELD else "booked"
    messages.success(request, f"“{booked.title}” is {done}.")
    onward = "repeat" if request.POST.get("then") == "repeat" else "session"
    return redirect(f"bookings:{onward}", booked.pk)


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def change_session(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    if request.method == "GET":
        if session.cancelled:
            messages.error(request, "This session is cancelled. Book it anew if it is to happen after all.")
            return redirect("bookings:session", session_id)
        return form_page(request, SessionForm(as_dragged(session, request), session=session))
    form = SessionForm(request.POST, session=session)
    if not form.is_valid():
        return form_page(request, form)
    try:
        save_change(request.user, form, session_id)
    except Conflict as conflict:
        return taken_meanwhile(request, form, conflict)
    except PastHolds as past:
        return past_holds(request, form, past)
    except Stale as stale:
        return changed_meanwhile(request, form, stale.session)
    messages.success(request, "Saved.")
    return redirect("bookings:session", session_id)


def as_dragged(session: Session, request: SignedInRequest) -> QueryDict:
    """The session as it stands, with the room and times that a link from the board says."""
    data = as_posted(session)
    for name in ("room", "load_in", "downbeat", "end"):
        if name in request.GET:
            data[name] = request.GET[name][:40]
    return data


@require_POST
@allowed(Act.BOOK)
def check(request: SignedInRequest, session_id: int | None = None) -> HttpResponse:
    """What is in the way of what has been typed so far. Saves nothing."""
    session = get_object_or_404(Session.objects.with_all(), pk=session_id) if session_id else None
    form = SessionForm(request.POST, session=session)
    context = {"form": form, "answer": answer(form), "wrong": typed_so_far(form)}
    return render(request, "bookings/sessions/answer.html", context)


@require_POST
@allowed(Act.BOOK)
def fill_in(request: SignedInRequest, session_id: int | None = None) -> HttpResponse:
    """A press of the answer: the form with another time, room or setup filled in. Saves nothing."""
    session = get_object_or_404(Session.objects.with_all(), pk=session_id) if session_id else None
    form = SessionForm(filled(request.POST), session=session)
    if session and "many" in request.POST:  # the form is that of a series, and stays it
        scope = ScopeForm(initial={"scope": request.POST.get("scope", "")})
        return form_page(request, form, "bookings/series/change.html", was_filled=True, scope=scope)
    return form_page(request, form, was_filled=True)


def form_page(
    request: SignedInRequest,
    form: SessionForm,
    template: str = "bookings/sessions/form.html",
    **more: Any,
) -> HttpResponse:
    context = {
        "form": form,
        "session": form.session,
        "answer": answer(form) if form.is_bound else None,
        "zones": "; ".join(f"{site} {site.zone}" for site in Site.objects.order_by("name")),
        "clients": Client.objects.values_list("name", flat=True)[:CLIENTS_OFFERED],
        **more,
    }
    return render(request, template, context)


def taken_meanwhile(request: SignedInRequest, form: SessionForm, conflict: Conflict) -> HttpResponse:
    """The database's answer, in the sentences of the live check; everything typed is kept."""
    return form_page(request, form, refused=explained(conflict.clashes, form.draft(job_id=0)))


def past_holds(request: SignedInRequest, form: SessionForm, past: PastHolds) -> HttpResponse:
    """Holds stand there; everything typed is kept, and a reason may be written."""
    draft = form.draft(job_id=0)
    return form_page(request, form, past=hold_sentences(past.holds, draft.room.site.tz, draft.whole))


def changed_meanwhile(request: SignedInRequest, form: SessionForm, current: Session) -> HttpResponse:
    if current.cancelled:
        data = request.POST.copy()
        data["form_key"] = str(uuid4())
        anew = SessionForm(data)
        return form_page(request, anew, cancelled=current)
    job = form.cleaned_data["job"]
    if job and difference(current, form.draft(job.pk)) == NO_CHANGE:
        return redirect("bookings:session", current.pk)
    meeting = meet(form, current)
    return form_page(request, meeting.form, meeting=meeting, tz=current.room.site.tz)


def booked_before(form: SessionForm) -> Session | None:
    """What this very form has booked already: it was sent twice, or sent again after going back."""
    key = form.cleaned_data["form_key"]
    return Session.objects.with_all().filter(form_key=key).first() if key else None


def typed_otherwise(form: SessionForm, first: Session) -> bool:
    """Whether the form says something else than what stands: a mere double press says the same."""
    job = form.cleaned_data["job"]
    draft = form.draft(first.job_id if opened_job_of(form, first) else job.pk if job else 0)
    return first.cancelled or difference(first, draft) != NO_CHANGE


def opened_job_of(form: SessionForm, first: Session) -> bool:
    """Whether the new job that is typed, or the house's, is the one that the first press opened."""
    typed = form.cleaned_data
    return not typed["job"] and typed["new_job"] in ("", first.job.title)


def sent_before(request: SignedInRequest, form: SessionForm, first: Session) -> HttpResponse:
    """It is not booked a second time, and nothing that was typed since is lost: it waits as a change."""
    if first.cancelled:
        return changed_meanwhile(request, form, first)
    data = as_posted(first)
    kept = {"version", "form_key"}
    if opened_job_of(form, first):
        kept |= {"job", "new_client", "new_job"}
    for name in SessionForm(session=first).fields:
        if name not in kept:
            data.setlist(name, request.POST.getlist(name))
    return form_page(request, SessionForm(data, session=first), sent_before=True)


def asked_for(request: SignedInRequest) -> dict[str, Any]:
    """What the link says: room, job and day, each left out when it makes no sense."""
    asked: dict[str, Any] = {name: request.GET[name] for name in ("room", "job") if name in request.GET}
    day = day_asked(request) or timezone.localdate() + timedelta(days=1)
    return asked | {
        name: datetime.combine(day, at).strftime("%Y-%m-%dT%H:%M") for name, at in USUAL_TIMES.items()
    }


def day_asked(request: SignedInRequest) -> date | None:
    try:
        return date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return None
