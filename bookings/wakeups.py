"""What beat wakes: the work itself stands in rows, so a lost or doubled wake-up does no harm."""

from __future__ import annotations

from celery import shared_task

from bookings import holds
from bookings.letters.send import send_hold_letters


@shared_task
def keep_ladders() -> None:
    """Holds whose time is over fall, those for tomorrow are asked for a yes or no, and the letters go out."""
    holds.lapse_holds()
    holds.ask_about_tomorrow()
    send_hold_letters()
