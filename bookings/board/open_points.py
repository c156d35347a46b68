"""What is open for tomorrow, and what yesterday left unfinished: the two pages of the morning in short."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bookings.models import Session
from bookings.morning.pages import forgotten, last_night, open_on
from studio.models import Site


@dataclass(frozen=True, slots=True)
class OpenPoint:
    session: Session
    needs: Sequence[str]


def open_tomorrow(site: Site, today: date, now: datetime) -> list[OpenPoint]:
    """Sessions that touch tomorrow on the site's clock and still need something."""
    found = open_on(site, today + timedelta(days=1), now)
    return [OpenPoint(each.session, each.needs) for each in found if each.needs]


def unfinished(site: Site, now: datetime) -> list[OpenPoint]:
    """Sessions that ended within the last day and a half and lack something, and older ones without times."""
    points = [
        OpenPoint(
            each.session, [f"{line.label.lower()}: {line.words}" for line in each.lines if not line.fine]
        )
        for each in last_night(site, now)
        if not each.fine
    ]
    return points + [OpenPoint(each, ["times in and out: not entered"]) for each in forgotten(site, now)]
