"""What is open for tomorrow, and what yesterday left unfinished."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bookings.models import Session
from bookings.models.sessions import SessionQuerySet
from bookings.needs import needs_of
from studio.clock import day_span
from studio.models import Site

LOOK_BACK = timedelta(hours=36)


@dataclass(frozen=True, slots=True)
class OpenPoint:
    session: Session
    needs: Sequence[str]


def open_tomorrow(site: Site, today: date, now: datetime) -> list[OpenPoint]:
    """Sessions that touch tomorrow on the site's clock and still need something."""
    tomorrow = day_span(today + timedelta(days=1), site.tz)
    return points(list(sessions_of(site).touching(tomorrow).filter(end__gt=now)), now)


def unfinished(site: Site, now: datetime) -> list[OpenPoint]:
    """Sessions that ended within the last day and a half and still lack something."""
    return points(list(sessions_of(site).filter(end__gt=now - LOOK_BACK, end__lte=now)), now)


def sessions_of(site: Site) -> SessionQuerySet:
    return Session.objects.standing().with_all().filter(room__site=site)


def points(sessions: list[Session], now: datetime) -> list[OpenPoint]:
    needs = needs_of(sessions, now)
    return [OpenPoint(session, needs[session.pk]) for session in sessions if needs[session.pk]]
