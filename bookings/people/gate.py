"""The door for freelancers: they see their own calls only, whatever page somebody adds."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse

from bookings.models import Session
from studio.access import OWN_ONLY, may_open, sees_house
from studio.models import Person


class OwnCallsOnly:
    """Of studio.access: only FREELANCE_PAGES, and of those about a session only the sessions that they are on."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self,
        request: HttpRequest,
        view: Callable[..., HttpResponse],
        args: tuple[Any, ...],
        kwargs: dict[str, Any],
    ) -> None:
        person = request.user
        if not isinstance(person, Person) or sees_house(person):
            return
        page = request.resolver_match.view_name if request.resolver_match else ""
        if not may_open(person, page):
            raise PermissionDenied(OWN_ONLY)
        seen = Session.objects.seen_by(person)
        if "session_id" in kwargs:
            seen = seen.filter(pk=kwargs["session_id"])
        if "call_id" in kwargs:
            seen = seen.filter(crew=kwargs["call_id"])
        if kwargs.keys() & {"session_id", "call_id"} and not seen.exists():
            raise Http404("There is no such session among your calls.")
