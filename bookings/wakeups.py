"""What beat wakes: the work itself stands in rows, so a lost or doubled wake-up does no harm."""

from __future__ import annotations

import logging

from celery import shared_task
from django.conf import settings
from django.utils import timezone

from bookings import holds
from bookings.busy import sources
from bookings.invitations.chasing import chase_the_silent
from bookings.invitations.mailbox import NoMailbox, fetch
from bookings.invitations.send import send_calls
from bookings.letters.send import send_hold_letters
from bookings.rentals.units import raise_late

log = logging.getLogger(__name__)


@shared_task
def keep_ladders() -> None:
    """Holds whose time is over fall, those for tomorrow are asked for a yes or no, and the letters go out."""
    holds.lapse_holds()
    holds.ask_about_tomorrow()
    send_hold_letters()


@shared_task
def keep_rentals() -> None:
    """What should have arrived and hasn't isn't counted on."""
    raise_late()


@shared_task
def keep_calls() -> None:
    """Whoever is silent is asked once more, and the invitations go out."""
    chase_the_silent()
    send_calls()


@shared_task
def fetch_replies() -> None:
    """Answers to invitations, where the house has named its mailbox."""
    if not settings.MAILBOX:
        return
    try:
        fetch(settings.MAILBOX)
    except NoMailbox as trouble:
        log.warning("%s", trouble)


@shared_task
def look_at_calendars() -> None:
    """One wake-up for each calendar that is due, so that a slow server holds up its own only."""
    for source_id in sources.due(timezone.now()):
        look_at_calendar.delay(source_id)


@shared_task
def look_at_calendar(source_id: int) -> None:
    sources.look(source_id)
