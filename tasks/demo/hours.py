"""When the people of the files usually work, and their leave."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time, timedelta

from bookings.people.leave import enter_leave
from studio.claims import Conflict
from studio.models import Person, WorkingHours
from studio.spans import Span
from tasks.demo.entries import Entry
from tasks.demo.house import House, checked

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def add_week(person: Person, entry: Entry) -> None:
    """Rows like “Mon 09:30 18:00”; a second hour at or before the first is the next day's."""
    for text in entry.texts("week"):
        words = text.split()
        if len(words) != 3 or words[0] not in DAYS:
            raise entry.wrong(f"week holds {text!r}; write a row like “Mon 09:30 18:00”.")
        starts, ends = (entry.read_clock(word, "week") for word in words[1:])
        row = WorkingHours(person=person, weekday=DAYS.index(words[0]) + 1, starts=starts, ends=ends)
        checked(entry, row).save()


def add_leaves(house: House, entries: Sequence[Entry]) -> None:
    """Whole days on the clock of the person's site: `days` of them from `day`, counted from today."""
    for entry in entries:
        entry.only("person", "day", "days", "why")
        person = entry.find(house.people, entry.get("person", str), "person")
        if person.site is None:
            raise entry.wrong(f"{person.username} has no site, so that nobody knows when their day begins.")
        first = house.today(person.site) + timedelta(days=entry.get("day", int))
        after = first + timedelta(days=max(1, entry.get("days", int)))
        start, end = (datetime.combine(day, time(), person.site.tz) for day in (first, after))
        try:
            enter_leave(house.manager, person, Span(start, end), entry.get("why", str, ""))
        except Conflict:
            raise entry.wrong(
                f"{person.username} is called on these days; move the leave or the call."
            ) from None
