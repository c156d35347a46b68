"""Repeating a session, the page of a series, and changing or ending many at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from hashlib import sha256
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from bookings.booking import Stale
from bookings.ladder import PastHolds
from bookings.models import Series, Session
from bookings.saying import hold_sentences
from bookings.series.booking import InTheWay, cancel_series, change_series, preview, repeat
from bookings.series.forms import RepeatForm, ScopeForm
from bookings.series.planning import Planned
from bookings.series.rules import RuleRefused
from bookings.series.saying import HOUSE_BOUND, fees, said_left_out, said_moved, said_when, series_in_words
from bookings.series.scopes import Scope, members, preview_change, targets
from bookings.series.words import rule_in_words
from bookings.sessions.after import CancelForm
from bookings.sessions.editing import form_page
from bookings.sessions.forms import SessionForm, as_posted
from bookings.sessions.meeting import entries_since, meet
from bookings.sessions.saving import job_of
from bookings.sessions.state import state_of
from studio.access import Act, SignedInRequest, allowed

CHANGED = "It was changed while this page was open. These are the sessions as they would be now: look again."
SCOPE_WORDS = [(Scope.FOLLOWING, "This one and the following"), (Scope.ALL, "All that aren't over")]
NOT_LOOKED_AT = {"csrfmiddlewaretoken", "seen", "book", "left_out", "overrule", "version"}


def looked_at(request: SignedInRequest) -> str:
    """Marks what was typed when the occurrences were shown: what is typed since is shown before it is saved."""
    typed = sorted(item for item in request.POST.lists() if item[0] not in NOT_LOOKED_AT)
    return sha256(repr(typed).encode()).hexdigest()[:20]


def was_seen(request: SignedInRequest) -> bool:
    return request.POST.get("seen") == looked_at(request)


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
    if not form.is_valid() or "book" not in request.POST or not was_seen(request):
        return repeat_page(request, session, form)
    return book_repeats(request, session, form)


def book_repeats(request: SignedInRequest, session: Session, form: RepeatForm) -> HttpResponse:
    left_out, tz = request.POST.getlist("left_out"), session.room.site.tz
    overrule = request.POST.get("overrule", "")[:300]
    try:
        version = form.cleaned_data["version"] or 0
        series = repeat(request.user, session.pk, version, form.text, left_out, overrule)
    except InTheWay as taken:
        words = ["Some of these are taken. Leave them out, or go back."]
        return repeat_page(request, session, form, words, taken.plans)
    except PastHolds as past:
        words = [*hold_sentences(past.holds, tz), "Write down why they give way, or leave these days out."]
        return repeat_page(request, session, form, words)
    except RuleRefused as reason:
        form.add_error(None, str(reason))
        return repeat_page(request, session, form)
    except Stale as stale:
        return repeat_again(request, stale.session)
    messages.success(request, f"Booked: {rule_in_words(series.rule, series.starts, tz)}.")
    return redirect("bookings:series", series.pk)


def repeat_again(request: SignedInRequest, session: Session) -> HttpResponse:
    """The session was changed meanwhile: what was typed stands, and is shown for the session of now."""
    if session.cancelled or session.series_id:
        messages.error(request, "It was cancelled, or repeated by somebody else, while this page was open.")
        return redirect("bookings:session", session.pk)
    data = request.POST.copy()
    data["version"] = str(session.version)
    return repeat_page(request, session, RepeatForm(data, session=session), [CHANGED])


def repeat_page(
    request: SignedInRequest,
    session: Session,
    form: RepeatForm,
    refused: Sequence[str] = (),
    plans: Sequence[Planned] = (),
) -> HttpResponse:
    if form.is_bound and form.is_valid() and not plans:
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
        "rule_words": rule_in_words(form.text, session.load_in, tz, session.end) if plans else "",
        "bound": HOUSE_BOUND if form.endless else "",
        "taken": sum(not plan.free for plan in plans),
        "holds": any(plan.holds for plan in plans),
        "left_out": request.POST.getlist("left_out"),
        "looked": "book" in request.POST,
        "seen": looked_at(request),
        "refused": refused,
        "overrule": request.POST.get("overrule", ""),
    }
    return render(request, "bookings/series/repeat.html", context)


@require_GET
@allowed(Act.SEE_BOARD)
def series(request: SignedInRequest, series_id: int) -> HttpResponse:
    found = get_object_or_404(Series.objects.select_related("follows"), pk=series_id)
    now = timezone.now()
    sessions = list(found.sessions.with_all().select_related("series").order_by("occurrence", "pk"))
    if not sessions:
        return redirect("bookings:sessions")
    ahead = [s for s in sessions if s.end > now and not s.cancelled]
    usual = next((s for s in sessions if s.occurrence == s.load_in), sessions[0])
    context = {
        "series": found,
        "usual": usual,
        "next": ahead[0] if ahead else None,
        "tz": found.tz,
        "words": series_in_words(usual),
        "rows": [(s, said_when(s), state_of(s, now, s.room.site.tz), said_moved(s)) for s in sessions],
        "left_out": [said_left_out(day, found.tz) for day in sorted(found.days_left_out)],
        "later": list(found.followed_by.order_by("starts", "pk")),
    }
    return render(request, "bookings/series/series.html", context)


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
    if not form.is_valid() or not scope.is_valid():
        return many_page(request, form, session, scope)
    return save_many(request, session, form, scope)


def save_many(
    request: SignedInRequest, session: Session, form: SessionForm, scope: ScopeForm
) -> HttpResponse:
    which, typed, tz = Scope(scope.cleaned_data["scope"]), form.cleaned_data, session.room.site.tz
    draft = form.draft(typed["job"].pk if typed["job"] else 0)
    plans = preview_change(targets(session, draft, which))
    if not was_seen(request) or any(not plan.free for plan in plans):
        return many_page(request, form, session, scope, plans)
    try:
        with transaction.atomic():
            draft = replace(draft, job_id=job_of(request.user, form).pk)
            version = typed["version"] or 0
            done = change_series(request.user, session.pk, version, draft, which, typed["overrule"])
    except InTheWay as taken:
        return many_page(request, form, session, scope, taken.plans)
    except PastHolds as past:
        return many_page(request, form, session, scope, plans, past=hold_sentences(past.holds, tz))
    except Stale as stale:
        return many_meet(request, form, session, stale.session, scope)
    messages.success(request, f"Saved for {len(done)} sessions.")
    return redirect("bookings:series", Session.objects.values_list("series_id", flat=True).get(pk=session.pk))


def many_meet(
    request: SignedInRequest, form: SessionForm, session: Session, stale: Session, scope: ScopeForm
) -> HttpResponse:
    """Somebody changed it, or another of the series, meanwhile: told what, and what was typed is kept."""
    current = stale if stale.pk == session.pk else Session.objects.with_all().get(pk=session.pk)
    if current.cancelled or not current.series_id or not members(current, Scope.ALL):
        messages.error(request, "Nothing is left to change: it was cancelled, or all of the series is over.")
        return redirect("bookings:session", session.pk)
    meeting = meet(form, current)
    return many_page(request, meeting.form, current, scope, meeting=meeting, tz=current.room.site.tz)


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
        "holds": any(plan.holds for plan in plans or ()),
        "seen": looked_at(request) if plans else "",
        "template": "bookings/series/change.html",
        **more,
    }
    return form_page(request, form, **context)


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def cancel_many(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    if session.cancelled or not session.series_id:
        messages.error(request, "There is no series to cancel here: it may be cancelled already.")
        return redirect("bookings:session", session_id)
    form = CancelForm(request.POST or None, initial={"version": session.version})
    scope = ScopeForm(request.POST or None)
    if not form.is_valid() or not scope.is_valid():
        return cancel_page(request, session, form, scope)
    typed = form.cleaned_data
    which = Scope(scope.cleaned_data["scope"])
    try:
        done = cancel_series(
            request.user, session_id, typed["version"], which, typed["because"], typed["by_whom"]
        )
    except Stale:
        return cancel_again(request, session_id, typed["version"], scope)
    messages.success(request, f"{len(done)} sessions are cancelled. Rooms, people and gear are free.")
    return redirect("bookings:series", session.series_id)


def cancel_again(request: SignedInRequest, session_id: int, version: int, scope: ScopeForm) -> HttpResponse:
    """It was changed meanwhile: told what, and the reason that was typed is kept."""
    session = Session.objects.with_all().get(pk=session_id)
    if session.cancelled or not members(session, Scope.ALL):
        messages.error(request, "Nothing is left to cancel: it is cancelled already, or over.")
        return redirect("bookings:session", session_id)
    data = request.POST.copy()
    data["version"] = str(session.version)
    return cancel_page(request, session, CancelForm(data), scope, entries_since(session, version), True)


def cancel_page(
    request: SignedInRequest,
    session: Session,
    form: CancelForm,
    scope: ScopeForm,
    since: Sequence[object] = (),
    changed: bool = False,
) -> HttpResponse:
    context = {
        "session": session,
        "form": form,
        "scope": scope,
        "tz": session.room.site.tz,
        "fees": [(words, fees(members(session, which))) for which, words in SCOPE_WORDS],
        "since": since,
        "changed": changed,
    }
    return render(request, "bookings/series/cancel.html", context)
