"""What is hired in for the sessions of the files."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from bookings.models import Session
from bookings.rentals.hiring import hire_in, step
from tasks.demo.entries import Entry
from tasks.demo.house import House


def add_rentals(house: House, entries: Sequence[Entry]) -> None:
    """`arrives` and `back` are a day counted from today and a time on the clock of the session's site."""
    for entry in entries:
        entry.only("session", "what", "supplier", "cost", "arrives", "back", "ordered")
        session = entry.find(house.sessions, entry.get("session", str), "session")
        arrives, back = (_moment(house, entry, key, session) for key in ("arrives", "back"))
        if back <= arrives:
            raise entry.wrong("it goes back before it arrives; correct one of the two.")
        what, cost = entry.get("what", str), Decimal(entry.get("cost", int))
        rental = hire_in(house.manager, session, what, entry.get("supplier", str, ""), cost, arrives, back)
        if entry.get("ordered", bool, False):
            step(house.manager, rental, "ordered")


def _moment(house: House, entry: Entry, key: str, session: Session) -> datetime:
    site = session.room.site
    moment = entry.moment(key, house.today(site), site.tz)
    if moment is None:
        raise entry.wrong(f"{key} is missing; add it.")
    return moment
