"""Who may do what: one table, asked by every view and use case."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from functools import wraps
from typing import Concatenate, ParamSpec

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django_htmx.middleware import HtmxDetails

from studio.models import Person, Role

P = ParamSpec("P")


class SignedInRequest(HttpRequest):
    """A request whose user is known to be a person of the house."""

    user: Person
    htmx: HtmxDetails


class Act(StrEnum):
    SEE_BOARD = "see the board"
    BOOK = "book, move and cancel sessions"
    SEE_JOBS = "see jobs and money"
    SEE_CLIENTS = "see who the client is"
    PLAN = "change an input list"
    TICK = "tick off tasks"
    HAND_OVER = "enter times in and out"
    RUN_ON = "let a running session go on"
    SEE_GEAR = "look up gear"
    REPORT_FAULT = "report a fault"
    MEND = "work on the bench"
    KEEP_GEAR = "add and change gear"
    SET_UP_HOUSE = "set up sites, rooms and people"


EVERYONE = frozenset(Role)
ALLOWED: dict[Act, frozenset[Role]] = {
    Act.SEE_BOARD: EVERYONE,
    Act.BOOK: frozenset({Role.MANAGER}),
    Act.SEE_JOBS: frozenset({Role.MANAGER}),
    Act.SEE_CLIENTS: frozenset({Role.MANAGER, Role.ENGINEER, Role.ASSISTANT}),
    Act.PLAN: frozenset({Role.MANAGER, Role.ENGINEER}),
    Act.TICK: frozenset({Role.MANAGER, Role.ENGINEER, Role.ASSISTANT}),
    Act.HAND_OVER: frozenset({Role.MANAGER, Role.ENGINEER, Role.ASSISTANT}),
    Act.RUN_ON: frozenset({Role.MANAGER, Role.ENGINEER}),
    Act.SEE_GEAR: EVERYONE,
    Act.REPORT_FAULT: EVERYONE,
    Act.MEND: frozenset({Role.TECH, Role.MANAGER}),
    Act.KEEP_GEAR: frozenset({Role.TECH, Role.MANAGER}),
    Act.SET_UP_HOUSE: frozenset({Role.MANAGER}),
}


def may(person: Person, act: Act) -> bool:
    return person.is_active and bool(person.roles & ALLOWED[act])


def require(person: Person, act: Act) -> None:
    """Raises PermissionDenied with a sentence that says who may."""
    if not may(person, act):
        who = " or ".join(sorted(Role(role).label for role in ALLOWED[act]))
        raise PermissionDenied(f"Only a {who} can {act}.")


def allowed(
    act: Act,
) -> Callable[
    [Callable[Concatenate[SignedInRequest, P], HttpResponse]],
    Callable[Concatenate[SignedInRequest, P], HttpResponse],
]:
    """Decorates a view that only people who may `act` can open."""

    def decorate(
        view: Callable[Concatenate[SignedInRequest, P], HttpResponse],
    ) -> Callable[Concatenate[SignedInRequest, P], HttpResponse]:
        @wraps(view)
        def guarded(request: SignedInRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            require(request.user, act)
            return view(request, *args, **kwargs)

        return guarded

    return decorate
