"""What the address of a board asks for: a site, a day, how many days, rooms or people or gear."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.utils import timezone

from bookings.board.ticks import DAYS, first_day
from studio.access import SignedInRequest, sees_house
from studio.clock import say_dated, say_day
from studio.models import Person, Site

FIRST, LAST = date(2000, 1, 1), date(2199, 12, 1)
STEP = {"day": 1, "week": 7, "weeks": 7}
VIEWS = {"day": "day", "week": "week", "weeks": "4 weeks"}
OF = {"rooms": "rooms", "people": "people", "gear": "gear"}
FILTERS = ("q", "kind", "taken", "page")


@dataclass(frozen=True, slots=True)
class Asked:
    """`of` is one of OF, `view` one of VIEWS; filters are those of the gear view, as they were typed."""

    site: Site
    day: date
    view: str
    of: str = "rooms"
    filters: dict[str, str] = field(default_factory=dict)

    @property
    def first(self) -> date:
        return first_day(self.day, self.view)

    @property
    def title(self) -> str:
        if self.view == "day":
            return say_dated(self.first)
        last = self.first + timedelta(days=DAYS[self.view] - 1)
        return f"{say_day(self.first)} to {say_dated(last)}"

    @property
    def near(self) -> tuple[date, date]:
        """The first and last of the days whose weekday alone says which is meant."""
        days = {"day": (-3, 3), "week": (-1, 7), "weeks": (0, -1)}[self.view]
        return self.first + timedelta(days=days[0]), self.first + timedelta(days=days[1])

    @property
    def step(self) -> str:
        return "a day" if self.view == "day" else "a week"

    def link(self, **other: Any) -> str:
        asked = {"site": self.site.pk, "day": self.day.isoformat(), "view": self.view, "of": self.of}
        return f"?{urlencode(asked | self.filters | other)}"

    def links(self, today: date) -> dict[str, str]:
        step = timedelta(days=STEP[self.view])
        found = {"today": self.link(day=today)}
        if self.day - step > FIRST:
            found["before"] = self.link(day=self.day - step)
        if self.day + step < LAST:
            found["after"] = self.link(day=self.day + step)
        return found

    def other_views(self) -> list[tuple[str, str, bool]]:
        """Name, address and whether it is the present one."""
        return [(name, self.link(view=view), view == self.view) for view, name in VIEWS.items()]

    def other_things(self, person: Person) -> list[tuple[str, str, bool]]:
        return [(OF[of], self.link(of=of), of == self.of) for of in things_for(person)]


def only_own(person: Person) -> bool:
    """Freelancers see their own calls, not who else is in the building."""
    return not sees_house(person)


def things_for(person: Person) -> list[str]:
    return ["people"] if only_own(person) else list(OF)


def what_is_asked(request: SignedInRequest, sites: list[Site]) -> Asked:
    """The address, with what makes no sense replaced by the usual and said."""
    by_key = {str(site.pk): site for site in sites}
    usual = by_key.get(str(request.user.site_id), sites[0])
    site = by_key.get(request.GET.get("site", ""), usual)
    today = timezone.localdate(timezone=site.tz)
    view, of = request.GET.get("view", "day"), request.GET.get("of", "rooms")
    offered = things_for(request.user)
    return Asked(
        site,
        _day_of(request, today),
        view if view in DAYS else "day",
        of if of in offered else offered[0],
        {name: request.GET[name][:100] for name in FILTERS if of == "gear" and request.GET.get(name)},
    )


def _day_of(request: SignedInRequest, today: date) -> date:
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
