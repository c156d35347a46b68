"""The board: rooms down, time across, and what is still open."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from bookings.board.open_points import open_tomorrow, unfinished
from bookings.board.rows import DAYS, board_of, first_day
from studio.access import Act, SignedInRequest, allowed
from studio.clock import say_day
from studio.models import Site

FIRST, LAST = date(2000, 1, 1), date(2199, 12, 1)


@dataclass(frozen=True, slots=True)
class Asked:
    """What the address asks for."""

    site: Site
    day: date
    view: str

    def link(self, **other: Any) -> str:
        asked = {"site": self.site.pk, "day": self.day.isoformat(), "view": self.view} | other
        return f"?{urlencode(asked)}"

    def links(self, today: date) -> dict[str, str]:
        step = timedelta(days=DAYS[self.view])
        found = {"today": self.link(day=today), "day": self.link(view="day"), "week": self.link(view="week")}
        if self.day - step > FIRST:
            found["before"] = self.link(day=self.day - step)
        if self.day + step < LAST:
            found["after"] = self.link(day=self.day + step)
        return found


@require_GET
@allowed(Act.SEE_BOARD)
def board(request: SignedInRequest) -> HttpResponse:
    sites = list(Site.objects.order_by("name"))
    if not sites:
        return render(request, "bookings/board/no_site.html")
    asked = what_is_asked(request, sites)
    now = timezone.now()
    today = now.astimezone(asked.site.tz).date()
    first = first_day(asked.day, asked.view)
    context = {
        "asked": asked,
        "tz": asked.site.tz,
        "board": board_of(asked.site, asked.day, asked.view, now),
        "title": title(first, asked.view),
        "is_today": asked.day == today,
        "links": asked.links(today),
        "sites": [(site, asked.link(site=site.pk)) for site in sites] if len(sites) > 1 else [],
        "open": open_tomorrow(asked.site, today, now),
        "unfinished": unfinished(asked.site, now),
    }
    return render(request, "bookings/board/board.html", context)


def title(first: date, view: str) -> str:
    if view == "day":
        return f"{say_day(first)} {first.year}"
    last = first + timedelta(days=DAYS[view] - 1)
    return f"{say_day(first)} to {say_day(last)} {last.year}"


def what_is_asked(request: SignedInRequest, sites: list[Site]) -> Asked:
    """The address, with what makes no sense replaced by the usual and said."""
    by_key = {str(site.pk): site for site in sites}
    usual = by_key.get(str(request.user.site_id), sites[0])
    site = by_key.get(request.GET.get("site", ""), usual)
    today = timezone.localdate(timezone=site.tz)
    view = request.GET.get("view", "day")
    return Asked(site, day_of(request, today), view if view in DAYS else "day")


def day_of(request: SignedInRequest, today: date) -> date:
    typed = request.GET.get("day", "")
    if not typed:
        return today
    try:
        day = date.fromisoformat(typed)
    except ValueError:
        day = None
    if day is None or not FIRST <= day < LAST:
        messages.error(request, f"“{typed[:20]}” is not a day on this board. This is today.")
        return today
    return day
