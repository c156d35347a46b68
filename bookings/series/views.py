"""Repeating a session, the page of a series, and changing or ending many at once."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from bookings.booking import Stale
from bookings.ladder import PastHolds
from bookings.models import Series, Session
from bookings.saying import hold_sentences
from bookings.series.booking import (
    InTheWay,
    Scope,
    cancel_series,
    change_series,
    members,
    preview,
    preview_change,
    repeat,
    targets,
)
from bookings.series.forms import RepeatForm, ScopeForm
from bookings.series.planning import Planned
from bookings.series.rules import RuleRefused
from bookings.series.words import rule_in_words
from bookings.sessions.after import CancelForm
from bookings.sessions.editing import form_page
from bookings.sessions.forms import SessionForm, as_posted
from bookings.sessions.state import state_of
from bookings.terms import owed_if_cancelled
from studio.access import Act, SignedInRequest, allowed
from studio.clock import say, say_span
from studio.spans import Span

CHANGED = "It was changed while this page was open. This is how it stands now."


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def repeat_session(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    if session.series_id:
        return redirect("bookings:series", session.series_id)
    if session.cancelled:
        messages.error(request, "This session is cancelled, so it can't be repeated.")
        return redirect("bookings:session", session_id)
    form = RepeatForm(request.POST or None, session=session)
    if not form.is_valid():
        return repeat_page(request, session, form)
    if "book" not in request.POST:
        return repeat_page(request, session, form)
    return book_repeats(request, session, form)


def book_repeats(request: SignedInRequest, session: Session, form: RepeatForm) -> HttpResponse:
    left_out, tz = request.POST.getlist("left_out"), session.room.site.tz
    overrule = request.POST.get("overrule", "")
    try:
        version = form.cleaned_data["version"] or 0
        series = repeat(request.user, session.pk, version, form.text, left_out, overrule)
    except InTheWay:
        return repeat_page(request, session, form, ["Some of these are taken. Leave them out, or go back."])
    except PastHolds as past:
        words = [*hold_sentences(past.holds, tz), "Write down why they give way, or leave these days out."]
        return repeat_page(request, session, form, words)
    except Stale:
        messages.error(request, CHANGED)
        return redirect("bookings:session", session.pk)
    messages.success(request, f"Booked: {rule_in_words(series.rule, series.starts, tz)}.")
    return redirect("bookings:series", series.pk)


def repeat_page(
    request: SignedInRequest, session: Session, form: RepeatForm, refused: Sequence[str] = ()
) -> HttpResponse:
    plans: list[Planned] = []
    if form.is_bound and form.text and not form.errors:
        try:
            plans = preview(session, form.text)
        except RuleRefused as reason:
            form.add_error(None, str(reason))
    tz = session.room.site.tz
    context = {
        "session": session,
        "form": form,
        "tz": tz,
        "plans": plans,
        "rule_words": rule_in_words(form.text, session.load_in, tz) if plans else "",
        "taken": sum(not plan.free for plan in plans),
        "holds": any(plan.holds for plan in plans),
        "left_out": request.POST.getlist("left_out"),
        "looked": "book" in request.POST,
        "refused": refused,
        "overrule": request.POST.get("overrule", ""),
    }
    wrong = bool(form.errors or refused)
    return render(request, "bookings/series/repeat.html", context, status=422 if wrong else 200)


@require_GET
@allowed(Act.SEE_BOARD)
def series(request: SignedInRequest, series_id: int) -> HttpResponse:
    found = get_object_or_404(Series, pk=series_id)
    now = timezone.now()
    sessions = list(found.sessions.with_all().order_by("occurrence"))
    if not sessions:
        return redirect("bookings:sessions")
    ahead = [s for s in sessions if s.end > now and not s.cancelled]
    context = {
        "series": found,
        "first": sessions[0],
        "next": ahead[0] if ahead else None,
        "tz": found.tz,
        "words": rule_in_words(found.rule, found.starts, found.tz),
        "rows": [(s, state_of(s, now, found.tz), said_moved(s)) for s in sessions],
        "left_out": [say(day, found.tz) for day in found.days_left_out],
    }
    return render(request, "bookings/series/series.html", context)


def said_moved(session: Session) -> str:
    """Where an occurrence isn't when the rule has it."""
    if session.occurrence in (None, session.load_in):
        return ""
    return f"moved from {say(session.occurrence, session.room.site.tz)}" if session.occurrence else ""


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def change_many(request: SignedInRequest, session_id: int) -> HttpResponse:
    """The form of one occurrence, saved for it and others: first shown with what is in the way of each."""
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    if session.cancelled or not session.series_id:
        messages.error(request, "There is no series to change here.")
        return redirect("bookings:session", session_id)
    if request.method == "GET":
        form = SessionForm(as_posted(session), session=session)
        return many_page(request, form, session, ScopeForm())
    form, scope = SessionForm(request.POST, session=session), ScopeForm(request.POST)
    if not (form.is_valid() and scope.is_valid() and form.cleaned_data["job"]):
        return many_page(request, form, session, scope)
    return save_many(request, session, form, scope)


def save_many(
    request: SignedInRequest, session: Session, form: SessionForm, scope: ScopeForm
) -> HttpResponse:
    which, typed, tz = Scope(scope.cleaned_data["scope"]), form.cleaned_data, session.room.site.tz
    draft = form.draft(typed["job"].pk)
    plans = preview_change(targets(session, draft, which))
    if "sure" not in request.POST or any(not plan.free for plan in plans):
        return many_page(request, form, session, scope, plans)
    try:
        done = change_series(request.user, session.pk, typed["version"] or 0, draft, which, typed["overrule"])
    except InTheWay as taken:
        return many_page(request, form, session, scope, taken.plans)
    except PastHolds as past:
        return many_page(request, form, session, scope, plans, past=hold_sentences(past.holds, tz))
    except Stale:
        messages.error(request, CHANGED)
        return redirect("bookings:session", session.pk)
    messages.success(request, f"Saved for {len(done)} sessions.")
    return redirect("bookings:session", session.pk)


def many_page(
    request: SignedInRequest,
    form: SessionForm,
    session: Session,
    scope: ScopeForm,
    plans: Sequence[Planned] | None = None,
    **more: Any,
) -> HttpResponse:
    context = {
        "scope": scope,
        "plans": plans,
        "taken": sum(not plan.free for plan in plans or ()),
        "template": "bookings/series/change.html",
        **more,
    }
    return form_page(request, form, **context)


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def cancel_many(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    if session.cancelled or not session.series_id:
        messages.error(request, "There is no series to cancel here.")
        return redirect("bookings:session", session_id)
    form = CancelForm(request.POST or None, initial={"version": session.version})
    scope = ScopeForm(request.POST or None)
    if form.is_valid() and scope.is_valid():
        typed = form.cleaned_data
        which = Scope(scope.cleaned_data["scope"])
        try:
            done = cancel_series(
                request.user, session_id, typed["version"], which, typed["because"], typed["by_whom"]
            )
        except Stale:
            messages.error(request, CHANGED)
            return redirect("bookings:session", session_id)
        messages.success(request, f"{len(done)} sessions are cancelled. Rooms, people and gear are free.")
        return redirect("bookings:series", session.series_id)
    context = {
        "session": session,
        "form": form,
        "scope": scope,
        "tz": session.room.site.tz,
        "fees": [(words, fees(members(session, which))) for which, words in SCOPE_WORDS],
    }
    return render(request, "bookings/series/cancel.html", context)


SCOPE_WORDS = [(Scope.FOLLOWING, "This one and the following"), (Scope.ALL, "All that aren't over")]


def fees(sessions: Sequence[Session]) -> str:
    """What the frozen terms give in all, if the client cancels."""
    now, owed = timezone.now(), Decimal(0)
    currency = sessions[0].job.currency if sessions else ""
    for session in sessions:
        one = owed_if_cancelled(session, now)
        owed += one.amount if one and one.amount else Decimal(0)
    days = say_span(Span(sessions[0].load_in, sessions[-1].end), sessions[0].room.site.tz) if sessions else ""
    return f"{len(sessions)} sessions, {days}; by the terms {owed} {currency} is owed if the client cancels."
