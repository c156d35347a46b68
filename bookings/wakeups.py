"""What beat wakes: the work itself stands in rows, so a lost or doubled wake-up does no harm."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from bookings import holds
from bookings.busy import sources
from bookings.letters.send import send_hold_letters


@shared_task
def keep_ladders() -> None:
    """Holds whose time is over fall, those for tomorrow are asked for a yes or no, and the letters go out."""
    holds.lapse_holds()
    holds.ask_about_tomorrow()
    send_hold_letters()


@shared_task
def look_at_calendars() -> None:
    """One wake-up for each calendar that is due, so that a slow server holds up its own only."""
    for source_id in sources.due(timezone.now()):
        look_at_calendar.delay(source_id)


@shared_task
def look_at_calendar(source_id: int) -> None:
    sources.look(source_id)
