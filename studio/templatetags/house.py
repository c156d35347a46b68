"""What every page says the same way: which pages there are, and instants on a site's clock."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Any

from django import template
from django.http import HttpRequest
from django.urls import reverse

from studio.clock import say, say_day, say_span
from studio.spans import Span

register = template.Library()

PAGES = [
    ("Board", "bookings:board", "see_board"),
    ("Last night", "bookings:last_night", "book"),
    ("Tomorrow", "bookings:tomorrow", "book"),
    ("Sessions", "bookings:sessions", "see_board"),
    ("Jobs", "bookings:jobs", "see_jobs"),
    ("My day", "tasks:my_day", "tick"),
    ("People", "bookings:people", "book"),
    ("Gear", "studio:gear_search", "see_gear"),
    ("Bench", "studio:bench", "mend"),
    ("Calendars", "bookings:calendars", "see_board"),
    ("House", "studio:house", "keep_gear"),
]
IN_THE_MENU = dict.fromkeys(("House", "People", "Sessions"), "seldom")
IN_THE_MENU |= dict.fromkeys(("Last night", "Tomorrow"), "morning")


@dataclass(frozen=True, slots=True)
class Page:
    """kind: “seldom” and “morning” stand in the person's menu where there is no room beside the others."""

    name: str
    address: str
    current: bool
    kind: str


@register.filter
def pages(may: Mapping[str, bool], request: HttpRequest) -> Iterator[Page]:
    """The pages that this person may open, the present one marked."""
    for name, route, act in PAGES:
        if may.get(act):
            address = reverse(route)
            here = request.path == address or request.path.startswith(f"{address}/")
            yield Page(name, address, here, IN_THE_MENU.get(name, ""))


@register.filter
def said(instant: datetime | None, tz: tzinfo) -> str:
    """Like “Thu 4 March, 16:40”, with the year where it isn't this one; nothing for None."""
    return say(instant, tz) if instant else ""


@register.filter
def said_time(instant: datetime | None, tz: tzinfo) -> str:
    """Like “16:40”; nothing for None."""
    return f"{instant.astimezone(tz):%H:%M}" if instant else ""


@register.filter
def said_day(instant: datetime, tz: tzinfo) -> str:
    """Like “Thu 4 March”."""
    return say_day(instant.astimezone(tz).date())


@register.filter
def said_span(span: Span, tz: tzinfo) -> str:
    return say_span(span, tz)


@register.simple_tag(takes_context=True)
def other_page(context: template.Context, number: int) -> str:
    """The present address with another page number."""
    return with_query(context["request"], page=number)


def with_query(request: HttpRequest, **changed: Any) -> str:
    query = request.GET.copy()
    for name, value in changed.items():
        query[name] = str(value)
    return f"?{query.urlencode()}"
