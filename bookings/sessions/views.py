"""One session: its page, cancelling it and handing it over."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from bookings.booking import Stale, Worked, cancel, hand_over
from bookings.deposits import deposit_of, set_deposit
from bookings.models import Session
from bookings.needs import needs_of
from bookings.overrun import may_run_on
from bookings.rentals.views import rental_lines
from bookings.series.saying import series_in_words
from bookings.sessions.after import CancelForm, HandOverForm
from bookings.sessions.holding import place_of
from bookings.sessions.meeting import entries_since
from bookings.sessions.state import state_of
from bookings.terms import frozen_terms, owed_if_cancelled
from studio.access import Act, SignedInRequest, allowed
from studio.models import Room, RoomPair

WORKED = "This session has been worked and handed over, so it can't be cancelled. Its times in and out can be changed."


@require_GET
@allowed(Act.SEE_BOARD)
def session(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    now, tz = timezone.now(), session.room.site.tz
    return render(
        request,
        "bookings/sessions/session.html",
        {
            "session": session,
            "tz": tz,
            "state": state_of(session, now, tz),
            "place": place_of(session, now),
            "terms": frozen_terms(session),
            "needs": needs_of([session], now)[session.pk],
            "history": session.history.select_related("by"),
            "parts": session.room.with_parts()[1:],
            "series": series_in_words(session),
            "rentals": rental_lines(session),
            "deposit": deposit_of(session),
            "beside": [(room, pair_words(session.room, room)) for room in session.beside.all()],
            "may_run_on": may_run_on(session, now),
            "begun": session.load_in <= now,
            "over": session.end <= now,
        },
    )


def pair_words(room: Room, other: Room) -> str:
    """What joins two rooms, like “12 tie lines, no sight, a cue feed”; nothing when nobody has said."""
    first, second = sorted([room.pk, other.pk])
    pair = RoomPair.objects.filter(first=first, second=second).first()
    return pair.words if pair else ""


@require_POST
@allowed(Act.SEE_JOBS)
def deposit(request: SignedInRequest, session_id: int) -> HttpResponse:
    get_object_or_404(Session, pk=session_id)
    set_deposit(request.user, session_id, request.POST.get("is_in") == "yes")
    return redirect("bookings:session", session_id)


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def cancel_session(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    if session.cancelled:
        messages.info(request, "This session is cancelled already.")
        return redirect("bookings:session", session_id)
    if session.worked:
        messages.error(request, WORKED)
        return redirect("bookings:session", session_id)
    form = CancelForm(request.POST or None, initial={"version": session.version})
    if form.is_valid():
        version, because = form.cleaned_data["version"], form.cleaned_data["because"]
        by_whom = form.cleaned_data["by_whom"]
        try:
            cancel(request.user, session_id, version, because, by_whom)
        except Stale as stale:
            session = stale.session
            typed = {"version": session.version, "because": because, "by_whom": by_whom}
            again = CancelForm(initial=typed)
            return cancel_page(request, session, again, since=entries_since(session, version))
        except Worked:
            messages.error(request, WORKED)
            return redirect("bookings:session", session_id)
        messages.success(request, "Cancelled. Room, people and gear are free again.")
        return redirect("bookings:session", session_id)
    return cancel_page(request, session, form)


def cancel_page(
    request: SignedInRequest, session: Session, form: CancelForm, since: object = None
) -> HttpResponse:
    context = {
        "session": session,
        "form": form,
        "tz": session.room.site.tz,
        "since": since,
        "terms": frozen_terms(session),
        "owed": owed_if_cancelled(session, timezone.now()),
    }
    return render(request, "bookings/sessions/cancel.html", context)


@require_http_methods(["GET", "POST"])
@allowed(Act.HAND_OVER)
def hand_over_session(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    if session.cancelled:
        messages.error(request, "This session is cancelled: there is nothing to hand over.")
        return redirect("bookings:session", session_id)
    form = HandOverForm(request.POST or None, session=session)
    if form.is_valid():
        hand_over(request.user, session_id, **form.instants, words=form.cleaned_data["words"])
        messages.success(request, "Handed over.")
        return redirect("bookings:session", session_id)
    context = {"session": session, "form": form, "tz": session.room.site.tz}
    return render(request, "bookings/sessions/hand_over.html", context)
