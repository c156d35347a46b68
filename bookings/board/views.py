"""The board: rooms, people or gear down, time across; and what is still open."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from bookings.board.asked import Asked, only_own, what_is_asked
from bookings.board.gear import KINDS, gear_board
from bookings.board.open_points import open_tomorrow, unfinished
from bookings.board.people import people_board
from bookings.board.rooms import rooms_board
from bookings.board.rows import Board
from studio.access import Act, SignedInRequest, allowed
from studio.models import Person, Site

LEGENDS = {
    "rooms": [
        ("setup", "setup"),
        ("session", "session"),
        ("spare", "spare time agreed"),
        ("stays", "stays set"),
        ("turnaround", "turnaround"),
        ("hold", "hold"),
        ("upkeep", "upkeep"),
        ("closed", "closed"),
    ],
    "people": [
        ("session", "called"),
        ("hold", "wanted or held"),
        ("closed", "on leave"),
        ("busy", "busy elsewhere"),
    ],
    "gear": [("session", "in use"), ("hold", "held"), ("repair", "out for repair")],
}
ANSWERS = [("full", "all accepted"), ("half", "answers missing"), ("crossed", "somebody declined")]


@require_GET
@allowed(Act.SEE_BOARD)
def board(request: SignedInRequest) -> HttpResponse:
    sites = list(Site.objects.order_by("name"))
    if not sites:
        return render(request, "bookings/board/no_site.html")
    asked, now = what_is_asked(request, sites), timezone.now()
    today = now.astimezone(asked.site.tz).date()
    context = {
        "asked": asked,
        "tz": asked.site.tz,
        "now": now,
        "board": board_of(asked, now, request.user),
        "is_today": asked.day == today,
        "links": asked.links(today),
        "views": asked.other_views(),
        "things": asked.other_things(request.user),
        "legend": LEGENDS[asked.of],
        "answers": ANSWERS,
        "kinds": KINDS,
        "sees_open": not only_own(request.user),
        "sites": [(site, asked.link(site=site.pk)) for site in sites] if len(sites) > 1 else [],
    }
    return render(request, "bookings/board/board.html", context)


def board_of(asked: Asked, now: datetime, viewer: Person) -> Board:
    if asked.of == "people":
        return people_board(asked, now, viewer)
    return gear_board(asked, now) if asked.of == "gear" else rooms_board(asked, now)


@require_GET
@allowed(Act.SEE_BOARD)
def open_points(request: SignedInRequest) -> HttpResponse:
    """What is open for tomorrow and what last night left: asked for by the board, so that it stands at once."""
    sites: Sequence[Site] = [] if only_own(request.user) else list(Site.objects.order_by("name"))
    context = {}
    if sites:
        asked, now = what_is_asked(request, list(sites)), timezone.now()
        today = now.astimezone(asked.site.tz).date()
        context = {"open": open_tomorrow(asked.site, today, now), "unfinished": unfinished(asked.site, now)}
    template = "bookings/board/open_part.html" if request.htmx else "bookings/board/open.html"
    return render(request, template, context)
