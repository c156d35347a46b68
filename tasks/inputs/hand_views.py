"""An engineer's presses on the input list: add, drop, keep, allow, undo; and what each would do, before it is made."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from bookings.models import Session
from studio.access import Act, SignedInRequest, allowed
from studio.gear.views import number_in
from tasks import by_hand
from tasks.by_hand import NotDone, WhatIf
from tasks.inputs.hand_forms import AddForm
from tasks.models import ByHand, UnfilledNeed
from tasks.planning.ways_out import PRICES
from tasks.ways_out import ways_out

Build = Callable[[Session], ByHand]


@require_POST
@allowed(Act.PLAN)
def check_added(request: SignedInRequest, session_id: int) -> HttpResponse:
    """What adding it would take and break, while it is being typed. Saves nothing."""
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    form = AddForm(request.POST)
    if not form.is_valid():
        return _shown(request, None, form.said())
    try:
        return _shown(request, by_hand.what_if(session, by_hand.added(**form.cleaned_data)), "")
    except NotDone as problem:
        return _shown(request, None, str(problem))


def _shown(request: SignedInRequest, would: WhatIf | None, problem: str) -> HttpResponse:
    return render(request, "tasks/inputs/what_if.html", {"would": would, "problem": problem})


@require_POST
@allowed(Act.PLAN)
def add(request: SignedInRequest, session_id: int) -> HttpResponse:
    form = AddForm(request.POST)
    if not form.is_valid():
        messages.error(request, f"Nothing was added. {form.said()}")
        return _back(session_id, "by-hand")
    return _kept(request, session_id, lambda session: by_hand.added(**form.cleaned_data), "by-hand")


@require_http_methods(["GET", "POST"])
@allowed(Act.PLAN)
def drop(request: SignedInRequest, session_id: int) -> HttpResponse:
    """What dropping it frees; a press drops it."""
    label = request.POST.get("label", request.GET.get("label", ""))[:120]
    if request.method == "POST":
        return _kept(request, session_id, lambda session: by_hand.dropped(session, label))
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    try:
        would = by_hand.what_if(session, by_hand.dropped(session, label))
    except NotDone as problem:
        messages.error(request, str(problem))
        return _back(session_id)
    context = {"session": session, "label": label, "would": would}
    return render(request, "tasks/inputs/drop.html", context)


@require_POST
@allowed(Act.PLAN)
def allow(request: SignedInRequest, session_id: int) -> HttpResponse:
    """One more kind of microphone, or another stand, for an input that is open."""
    label, kind = request.POST.get("label", "")[:120], request.POST.get("kind", "")[:40]
    return _kept(request, session_id, lambda session: by_hand.allowed(session, label, kind))


@require_GET
@allowed(Act.PLAN)
def ways(request: SignedInRequest, session_id: int, number: int) -> HttpResponse:
    """The cheapest ways to meet an open need: a part of the input list, or a page of its own."""
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    need = get_object_or_404(UnfilledNeed, plan__session=session, number=number)
    context = {
        "session": session,
        "need": need,
        "ways": ways_out(session, need, request.user),
        "prices": PRICES,
    }
    part = "tasks/inputs/ways.html" if request.htmx else "tasks/inputs/ways_page.html"
    return render(request, part, context)


@require_POST
@allowed(Act.PLAN)
def pin(request: SignedInRequest, session_id: int, input_id: int) -> HttpResponse:
    get_object_or_404(Session, pk=session_id)
    try:
        row = by_hand.pin(request.user, session_id, input_id)
    except NotDone as problem:
        messages.error(request, str(problem))
        return _back(session_id)
    messages.success(request, f"{row.label} stays as it is: a new plan keeps it where it can.")
    return _back(session_id, f"input-{row.number}")


@require_POST
@allowed(Act.PLAN)
def undo(request: SignedInRequest, session_id: int) -> HttpResponse:
    get_object_or_404(Session, pk=session_id)
    change, label = number_in(request.POST.get("change", "")), request.POST.get("label", "")[:120]
    try:
        said = by_hand.undo(request.user, session_id, change_id=change or 0, label=label)
        messages.success(request, f"Taken back: {said}.")
    except NotDone as problem:
        messages.error(request, str(problem))
    return _back(session_id)


def _kept(request: SignedInRequest, session_id: int, build: Build, where: str = "") -> HttpResponse:
    get_object_or_404(Session, pk=session_id)
    try:
        change = by_hand.keep(request.user, session_id, build)
        messages.success(request, f"Done: {by_hand.in_words(change)}. It can be undone below.")
    except NotDone as problem:
        messages.error(request, str(problem))
    return _back(session_id, where)


def _back(session_id: int, where: str = "") -> HttpResponse:
    return redirect(reverse("tasks:inputs", args=[session_id]) + (f"#{where}" if where else ""))
