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
    SEE_HOUSE = "see who else is in the house"
    BOOK = "book, move and cancel sessions"
    SEE_JOBS = "see jobs and money"
    SEE_CLIENTS = "see who the client is"
    PLAN = "change an input list"
    TICK = "tick off tasks"
    HAND_OVER = "enter times in and out"
    RUN_ON = "let a running session go on"
    SEE_GEAR = "look up gear"
    REPORT_FAULT = "report a fault"
    MOVE_GEAR = "move and count gear"
    MEND = "work on the bench"
    KEEP_GEAR = "add and change gear"
    SET_UP_HOUSE = "set up sites, rooms and people"


EVERYONE = frozenset(Role)
ALLOWED: dict[Act, frozenset[Role]] = {
    Act.SEE_BOARD: EVERYONE,
    Act.SEE_HOUSE: EVERYONE,
    Act.BOOK: frozenset({Role.MANAGER}),
    Act.SEE_JOBS: frozenset({Role.MANAGER}),
    Act.SEE_CLIENTS: frozenset({Role.MANAGER, Role.ENGINEER, Role.ASSISTANT}),
    Act.PLAN: frozenset({Role.MANAGER, Role.ENGINEER}),
    Act.TICK: frozenset({Role.MANAGER, Role.ENGINEER, Role.ASSISTANT}),
    Act.HAND_OVER: frozenset({Role.MANAGER, Role.ENGINEER, Role.ASSISTANT}),
    Act.RUN_ON: frozenset({Role.MANAGER, Role.ENGINEER}),
    Act.SEE_GEAR: EVERYONE,
    Act.REPORT_FAULT: EVERYONE,
    Act.MOVE_GEAR: EVERYONE,
    Act.MEND: frozenset({Role.TECH, Role.MANAGER}),
    Act.KEEP_GEAR: frozenset({Role.TECH, Role.MANAGER}),
    Act.SET_UP_HOUSE: frozenset({Role.MANAGER}),
}

OWN_ONLY = "Freelancers see their own calls only. Ask the manager for what you need of the house."
"""What a freelancer is told who opens anything but FREELANCE_PAGES."""
NOT_FREELANCE = frozenset(
    {Act.SEE_HOUSE, Act.SEE_JOBS, Act.BOOK, Act.RUN_ON, Act.MEND, Act.KEEP_GEAR, Act.SET_UP_HOUSE}
)
FREELANCE_PAGES = frozenset(
    {
        *("studio:health", "studio:home", "studio:sign_in", "studio:sign_out"),
        *(
            "studio:gear_search",
            "studio:gear_list",
            "studio:unit",
            "studio:stock",
            "studio:scanned",
            "studio:photo",
            "studio:seen_again",
            "studio:cleared",
            "studio:heard",
            "studio:room_sheet",
            "studio:here",
            "studio:back_home",
            "studio:part_step",
        ),
        *(
            "bookings:board",
            "bookings:sessions",
            "bookings:session",
            "bookings:hand_over",
            "bookings:answer_call",
        ),
        *("bookings:calendars", "bookings:feed", "bookings:feed_make", "bookings:feed_renew"),
        *("bookings:feed_revoke", "bookings:busy", "bookings:busy_upload", "bookings:busy_follow"),
        *("bookings:busy_drop", "bookings:person", "bookings:person_hours", "bookings:person_leave"),
        *("bookings:leave_back", "tasks:my_day", "tasks:checklist", "tasks:live", "tasks:tick"),
        *(
            "tasks:inputs",
            "tasks:plan_again",
            "tasks:session_parts",
            "tasks:papers",
            "tasks:paper_csv",
            "tasks:floor",
            "tasks:floor_csv",
            "tasks:cues",
            "tasks:cues_csv",
            "tasks:recall",
            "tasks:uses",
            "tasks:swap",
            "tasks:chain",
            "tasks:chains",
            "tasks:choose_chain",
            "tasks:count_back",
            "tasks:add_input",
            "tasks:check_added",
            "tasks:drop_input",
            "tasks:allow_for",
            "tasks:undo_by_hand",
            "tasks:keep_input",
            "tasks:ways_out",
            "tasks:always",
            "tasks:preferences",
            "tasks:forget_preference",
        ),
    }
)
"""The only pages that freelancers may open: each of them shows what they are called for, and nothing else. A page
that isn't named here is closed to them, a new one as well. Both rules are held by bookings.people.gate."""


def sees_house(person: Person) -> bool:
    """Whether somebody sees more than their own calls: everybody but freelancers, unless they manage the house."""
    return not person.freelance or Role.MANAGER in person.roles


def may(person: Person, act: Act) -> bool:
    if act in NOT_FREELANCE and not sees_house(person):
        return False
    return person.is_active and bool(person.roles & ALLOWED[act])


def may_open(person: Person, page: str) -> bool:
    """Whether a page, by its name like “bookings:board”, is one that the person may know of."""
    return sees_house(person) or page in FREELANCE_PAGES


def may_keep_hours(by: Person, person: Person) -> bool:
    """Whether somebody sees and changes the usual hours and the leave of a person: their own, or as a manager."""
    return by == person or may(by, Act.BOOK)


def may_answer(by: Person, person: Person) -> bool:
    """Whether somebody answers to a person's calls: their own, or as a manager."""
    return by == person or may(by, Act.BOOK)


def require(person: Person, act: Act) -> None:
    """Raises PermissionDenied with a sentence that says who may."""
    if act in NOT_FREELANCE and not sees_house(person):
        raise PermissionDenied(OWN_ONLY)
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
