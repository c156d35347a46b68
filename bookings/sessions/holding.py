"""The pages of a hold's life: challenge, confirm, release. Each says beforehand what pressing it does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from bookings.booking import Stale
from bookings.deadlines import answer_by
from bookings.falling import office_of
from bookings.holds import NotNow, challenge, clashes_if_confirmed, confirm, release
from bookings.ladder import PastHolds, holds_above, holds_on, pieces_of, ranks, stands, stands_until
from bookings.models import Session
from bookings.saying import hold_sentences, kill_sentences, place_sentence
from bookings.sessions.fields import Line
from bookings.sessions.meeting import entries_since
from bookings.terms import said_terms
from bookings.words import clash_sentences
from studio.access import Act, SignedInRequest, allowed
from studio.claims import Conflict
from studio.clock import say


class ConfirmForm(forms.Form):
    overrule = Line(
        label="Reason to overrule the holds above",
        max_length=300,
        help_text="It is kept in the session's history.",
    )
    version = forms.IntegerField(widget=forms.HiddenInput)


class ReleaseForm(forms.Form):
    because = Line(label="Why is it released?", max_length=180)


@dataclass(frozen=True, slots=True)
class Place:
    """A hold's place in line: said in a sentence, the holds above, until when it stands, whether it asks."""

    words: str
    above: Sequence[str]
    until: datetime | None
    challenged: bool
    challenges: bool


def place_of(session: Session, now: datetime) -> Place | None:
    """None for what is no standing hold."""
    if not stands(session, now):
        return None
    tz, above = session.room.site.tz, holds_above(session, now)
    return Place(
        words=place_sentence(ranks([session], now)[session.pk], above, tz),
        above=hold_sentences(above, tz),
        until=stands_until(session),
        challenged=session.answer_by is not None,
        challenges=session.challenged_at is not None,
    )


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def challenge_hold(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    if request.method == "POST":
        try:
            challenge(request.user, session_id)
        except (NotNow, Stale) as trouble:
            return back(request, session_id, trouble)
        messages.success(request, "The holds above are asked, first come first; letters go out soon.")
        return redirect("bookings:session", session_id)
    now, site = timezone.now(), session.room.site
    if not (place := place_of(session, now)) or not place.above:
        return back(request, session_id, NotNow("Nothing to challenge: no hold stands above this one."))
    deadline = answer_by(now, site.answer_hours, office_of(site))
    return page(request, "challenge", session, place=place, deadline=say(deadline, site.tz))


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def confirm_hold(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    form = ConfirmForm(request.POST or None, initial={"version": session.version})
    if not form.is_valid():
        return confirm_page(request, session, form)
    version, overrule = form.cleaned_data["version"], form.cleaned_data["overrule"]
    try:
        confirm(request.user, session_id, version, overrule)
    except NotNow as trouble:
        return back(request, session_id, trouble)
    except (Conflict, PastHolds):
        return confirm_page(request, session, form, refused=True)
    except Stale as stale:
        if stale.session.status != Session.Status.HELD:
            return back(request, session_id, stale)
        again = ConfirmForm(initial={"version": stale.session.version, "overrule": overrule})
        return confirm_page(request, stale.session, again, since=entries_since(stale.session, version))
    messages.success(request, f"“{session.title}” is confirmed.")
    return redirect("bookings:session", session_id)


def confirm_page(request: SignedInRequest, session: Session, form: ConfirmForm, **more: Any) -> HttpResponse:
    """Says who stands above, what is in the way, which holds fall and which terms stand from then on."""
    now, tz = timezone.now(), session.room.site.tz
    if not (place := place_of(session, now)):
        return back(request, session.pk, NotNow("Only a hold that stands can be confirmed."))
    fallen = holds_on(pieces_of(session), session)
    return page(
        request,
        "confirm",
        session,
        form=form,
        place=place,
        in_the_way=clash_sentences(clashes_if_confirmed(session), tz),
        fallen=kill_sentences(fallen, session.whole, tz),
        terms=said_terms(session.room.site),
        **more,
    )


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def release_hold(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    form = ReleaseForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            release(request.user, session_id, form.cleaned_data["because"])
        except NotNow as trouble:
            return back(request, session_id, trouble)
        messages.success(request, "Released. Whoever stood below moves up.")
        return redirect("bookings:session", session_id)
    if not session.is_hold:
        return back(request, session_id, NotNow("Only a hold can be released."))
    return page(request, "release", session, form=form)


def page(request: SignedInRequest, name: str, session: Session, **more: Any) -> HttpResponse:
    context = {"session": session, "tz": session.room.site.tz, **more}
    return render(request, f"bookings/holds/{name}.html", context)


def back(request: SignedInRequest, session_id: int, trouble: Exception) -> HttpResponse:
    """To the session's page, with the reason; somebody may have done it already."""
    if isinstance(trouble, Stale):
        words = "It is confirmed already." if not trouble.session.cancelled else "This hold has been let go."
        messages.info(request, words)
    else:
        messages.error(request, str(trouble))
    return redirect("bookings:session", session_id)
