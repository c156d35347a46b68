"""What is hired in for a session: the lines, one more, and each step of the way."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from bookings.models import Rental, Session
from bookings.rentals import hiring
from bookings.rentals.forms import RentalForm, UnitForm
from bookings.rentals.units import RentalRefused, enter_unit
from studio.access import Act, SignedInRequest, allowed


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def hire_in(request: SignedInRequest, session_id: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.with_all(), pk=session_id)
    form = RentalForm(request.POST or None, session=session)
    form.initial["what"] = request.GET.get("what", "")[:120]
    if form.is_valid():
        typed = form.cleaned_data
        hiring.hire_in(
            request.user, session, typed["what"], typed["supplier"], typed["cost"], **form.instants
        )
        messages.success(request, f"{typed['what']} is entered. Press “ordered” once it is.")
        return redirect("bookings:session", session_id)
    context = {"session": session, "form": form, "tz": form.tz, "press": "Enter it"}
    return render(
        request, "bookings/rentals/form.html", context, status=422 if request.method == "POST" else 200
    )


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def rental_change(request: SignedInRequest, rental_id: int) -> HttpResponse:
    found = Rental.objects.select_related("session__room__site", "session__job")
    rental = get_object_or_404(found, pk=rental_id)
    form = RentalForm(request.POST or None, session=rental.session, rental=rental)
    if form.is_valid():
        typed = form.cleaned_data
        try:
            hiring.change(
                request.user, rental, typed["what"], typed["supplier"], typed["cost"], **form.instants
            )
        except RentalRefused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"{typed['what']} is changed.")
            return redirect("bookings:session", rental.session_id)
    context = {"session": rental.session, "form": form, "tz": form.tz, "press": "Change it"}
    return render(request, "bookings/rentals/form.html", context, status=422 if form.errors else 200)


@require_POST
@allowed(Act.HAND_OVER)
def rental_step(request: SignedInRequest, rental_id: int, name: str) -> HttpResponse:
    """ordered, arrived, returned, each with not-… to take it back; or off."""
    rental = get_object_or_404(Rental.objects.select_related("session"), pk=rental_id)
    done = not name.startswith("not-")
    if name == "off":
        hiring.call_off(request.user, rental)
    elif (step := name.removeprefix("not-")) in hiring.STEPS:
        try:
            hiring.step(request.user, rental, step, done)
        except RentalRefused as refused:
            messages.error(request, str(refused))
    else:
        raise Http404("There is no such step.")
    return redirect("bookings:session", rental.session_id)


@require_http_methods(["GET", "POST"])
@allowed(Act.BOOK)
def rental_unit(request: SignedInRequest, rental_id: int) -> HttpResponse:
    """Enter it as a unit, so that the session can be planned with it."""
    found = Rental.objects.select_related("session__room__site", "unit")
    rental = get_object_or_404(found, pk=rental_id)
    form = UnitForm(request.POST or None, initial={"tag": f"Hire {rental.pk}"})
    if form.is_valid():
        try:
            with transaction.atomic():  # a model made for it goes with it
                model = form.model_meant(rental.what)
                unit = enter_unit(request.user, rental, model, form.cleaned_data["tag"])
        except RentalRefused as refused:
            form.add_error("tag", str(refused))
        else:
            messages.success(request, f"{rental.what} is {unit.tag}: it counts while it is here.")
            return redirect("bookings:session", rental.session_id)
    context = {"rental": rental, "form": form, "words": hiring.said(rental)}
    return render(request, "bookings/rentals/unit.html", context, status=422 if form.errors else 200)


def rental_lines(session: Session) -> list[dict[str, object]]:
    """For the session's page: what, where it stands, and the step that comes next."""
    now = timezone.now()
    lines = []
    for rental in session.rentals.select_related("unit"):
        rental.session = session
        done = [name for name, (field, _) in hiring.STEPS.items() if getattr(rental, field)]
        ahead = [name for name in hiring.STEPS if name not in done]
        lines.append(
            {
                "rental": rental,
                "words": hiring.said(rental),
                "state": hiring.state(rental, now),
                "next": ahead[0] if ahead else "",
                "last": done[-1] if done else "",
            }
        )
    return lines
