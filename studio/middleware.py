"""Pages belong to one person: never kept by a cache, never half a page out of the history."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import unquote

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.cache import patch_vary_headers


class PersonalPagesMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if "\0" in request.path or "\0" in unquote(request.META.get("QUERY_STRING", "")):
            said = "This address holds a character that no name here has. Go back and type the words anew.\n"
            return HttpResponse(said, status=400, content_type="text/plain; charset=utf-8")
        response = self.get_response(request)
        response.headers.setdefault("Cache-Control", "private, no-store")
        patch_vary_headers(response, ["HX-Request"])
        if getattr(request, "htmx", False) and _leads_to_sign_in(response):
            return _whole_page(response)
        return response


def _leads_to_sign_in(response: HttpResponse) -> bool:
    return response.status_code == 302 and response["Location"].startswith(reverse("studio:sign_in"))


def _whole_page(response: HttpResponse) -> HttpResponse:
    """A fragment can't hold the sign-in page: htmx is told to load it as a page."""
    page = HttpResponse(status=204)
    page["HX-Redirect"] = redirect("studio:sign_in").url
    page["Cache-Control"] = "private, no-store"
    return page
