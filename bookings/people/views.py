"""A person's page: the usual week, leave, the next calls, the rest between them; and the list of everybody."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from bookings.models.busy import zone_of
from bookings.people.forms import HoursForms, LeaveForm
from bookings.people.leave import Conflict, NothingLeft, Over, enter_leave, take_back
from bookings.people.pages import everybody, page_of
from bookings.words import clash_sentences
from studio.access import Act, SignedInRequest, allowed, may, may_keep_hours
from studio.models import Leave, Person


@require_GET
@allowed(Act.BOOK)
def people(request: SignedInRequest) -> HttpResponse:
    return render(request, "bookings/people/people.html", {"people": everybody(timezone.now())})


@require_GET
def person(request: SignedInRequest, person_id: int) -> HttpResponse:
    return _page(request, _person(request, person_id))


@require_POST
def hours(request: SignedInRequest, person_id: int) -> HttpResponse:
    person = _person(request, person_id)
    forms = HoursForms(request.POST, instance=person)
    if not forms.is_valid():
        return _page(request, person, hours=forms)
    forms.save()
    messages.success(request, "The usual week is saved.")
    return redirect("bookings:person", person_id)


@require_POST
def leave(request: SignedInRequest, person_id: int) -> HttpResponse:
    person = _person(request, person_id)
    form = _leave_form(request, person, request.POST)
    if form.is_valid():
        typed = form.cleaned_data
        try:
            enter_leave(request.user, person, form.span, typed["why"], typed.get("around", False))
        except Conflict as conflict:
            return _page(request, person, leave=form, in_the_way=clash_sentences(conflict.clashes, form.tz))
        except NothingLeft:
            form.add_error(None, "All of that time is taken already, so there is none left for leave.")
        else:
            messages.success(request, "The leave is entered.")
            return redirect("bookings:person", person_id)
    return _page(request, person, leave=form)


@require_POST
def leave_back(request: SignedInRequest, leave_id: int) -> HttpResponse:
    leave = get_object_or_404(Leave.objects.select_related("person"), pk=leave_id)
    _require(request, leave.person)
    try:
        take_back(request.user, leave)
    except Over:
        messages.error(request, "This leave is over: it stays as it was.")
    else:
        messages.success(request, "The leave is taken back, and its time is free again.")
    return redirect("bookings:person", leave.person_id)


def _person(request: SignedInRequest, person_id: int) -> Person:
    found = Person.objects.select_related("site").prefetch_related("roles_held")
    person = get_object_or_404(found, pk=person_id)
    _require(request, person)
    return person


def _require(request: SignedInRequest, person: Person) -> None:
    if not may_keep_hours(request.user, person):
        raise PermissionDenied("Hours and leave are seen by the person themselves and by managers.")


def _leave_form(request: SignedInRequest, person: Person, typed: Any = None) -> LeaveForm:
    books = may(request.user, Act.BOOK)
    return LeaveForm(typed, person=person, tz=zone_of(person), may_go_around=books, prefix="leave")


def _page(
    request: SignedInRequest,
    person: Person,
    hours: Any = None,
    leave: LeaveForm | None = None,
    in_the_way: list[str] | None = None,
) -> HttpResponse:
    """The page; with what was typed where a form was wrong."""
    context = {
        **page_of(person, timezone.now()),
        "own": person == request.user,
        "hours": hours or HoursForms(instance=person),
        "leave_form": leave or _leave_form(request, person),
        "in_the_way": in_the_way,
    }
    wrong = hours or leave
    return render(request, "bookings/people/person.html", context, status=422 if wrong else 200)
