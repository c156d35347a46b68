"""What the tests of series start from: four Thursdays in March 2027, the first on the 4th."""

from __future__ import annotations

from datetime import datetime, timedelta

from bookings.drafts import Draft, as_draft
from bookings.models import Series, Session
from bookings.series.booking import repeat
from bookings.series.rules import occurrences
from tests.bookings.cast import make_session, manager
from tests.house import make_room

WEEKLY = "FREQ=WEEKLY;COUNT=4"


def fresh(session: Session) -> Session:
    return Session.objects.with_all().get(pk=session.pk)


def four_evenings(**fields: object) -> list[Session]:
    first = make_session(make_room(), "19:00", "23:00", **fields)
    repeat(manager(), first.pk, first.version, WEEKLY, [])
    return list(Session.objects.with_all().order_by("load_in"))


def days_of(series: Series) -> list[datetime]:
    """The load-ins that its rule gives."""
    return [each.load_in for each in occurrences(series.rule, series.starts, series.tz)]


def later(session: Session, hours: float) -> Draft:
    """The session with all of its times so much later."""
    shift = timedelta(hours=hours)
    return as_draft(session).moved(session.load_in + shift, session.downbeat + shift, session.end + shift)
