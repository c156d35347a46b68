"""Pages belong to one person: never kept by a cache, never half a page out of the history."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import unquote, urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.cache import patch_vary_headers


class PersonalPagesMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.user.is_authenticated and _holds_null(request):
            said = "This address holds a character that no name here has. Go back and type the words anew.\n"
            return HttpResponse(said, status=400, content_type="text/plain; charset=utf-8")
        response = self.get_response(request)
        response.headers.setdefault("Cache-Control", "private, no-store")
        patch_vary_headers(response, ["HX-Request"])
        if _leads_to_sign_in(response):
            return _signed_out(request, response)
        return response


def _holds_null(request: HttpRequest) -> bool:
    """PostgreSQL keeps no null character, so nothing can be called so."""
    return "\0" in request.path or "\0" in unquote(request.META.get("QUERY_STRING", ""))


def _leads_to_sign_in(response: HttpResponse) -> bool:
    return response.status_code == 302 and response["Location"].startswith(f"{reverse('studio:sign_in')}?")


def _signed_out(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """The sign-in ran out. What was being typed is never lost; a fragment never holds the sign-in page."""
    htmx = bool(getattr(request, "htmx", False))
    if request.method == "POST" and request.path != reverse("studio:sign_out"):
        template = "studio/signed_out_part.html" if htmx else "studio/form_too_old.html"
        context = {"typed": typed(request), "again": request.path, "signed_out": True}
        answer = render(request, template, context, status=200 if htmx else 403)
    elif htmx:
        answer = HttpResponse(status=204)
        back = urlencode({"next": request.htmx.current_url_abs_path or reverse("studio:home")})  # type: ignore[attr-defined]
        answer["HX-Redirect"] = f"{reverse('studio:sign_in')}?{back}"
    else:
        return response
    answer["Cache-Control"] = "private, no-store"
    return answer


def typed(request: HttpRequest) -> list[tuple[str, str]]:
    """What a form sent, to be kept and sent again: all but passwords and its token."""
    return [
        (name, str(value))
        for name, values in request.POST.lists()
        if name != "csrfmiddlewaretoken" and "password" not in name
        for value in values
    ]
