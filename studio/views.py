"""Signing in, the first page for each role, and the pages for what went wrong."""

from __future__ import annotations

from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from studio.access import SignedInRequest, may_open
from studio.middleware import typed
from studio.models import Role

FIRST_PAGES = [
    (Role.MANAGER, "bookings:board"),
    (Role.ASSISTANT, "tasks:my_day"),
    (Role.ENGINEER, "studio:gear_search"),
    (Role.TECH, "studio:bench"),
]


class SignIn(LoginView):
    template_name = "studio/sign_in.html"
    redirect_authenticated_user = True


@require_GET
def home(request: SignedInRequest) -> HttpResponse:
    """Send each person to the page that answers their first question of the day."""
    person = request.user
    theirs = [page for role, page in FIRST_PAGES if role in person.roles and may_open(person, page)]
    page = theirs[0] if theirs else "bookings:board"
    return redirect(page)


def form_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Someone signed in elsewhere since this form was opened: keep what was typed, let it be sent again."""
    context = {"typed": typed(request), "again": request.path}
    return render(request, "studio/form_too_old.html", context, status=403)
