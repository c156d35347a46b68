"""When a hold lapses and until when its holder may answer, in the office hours of a site. Pure.

The rule of an answer. Time counts only on days on which the office is open. Each full 24 hours lead to the
same hour of the next office day; what is left over is counted in office hours. Asked while the office is
closed, the time begins when it next opens. So 24 hours from Friday 17:00 are Monday 17:00 where the office is
closed at the weekend, and 4 hours from Friday 17:00, with an office from 10:00 to 18:00, are Monday 13:00.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Office:
    """When somebody answers the telephone: from opens to closes on these days (ISO 8601: Monday is 1)."""

    opens: time
    closes: time
    days: frozenset[int]
    tz: tzinfo

    def __post_init__(self) -> None:
        if not self.opens < self.closes:
            raise ValueError("An office has to close after it opens.")
        if not self.days or not self.days <= set(range(1, 8)):
            raise ValueError("An office has to be open on one day of the week at least: 1 to 7.")

    def works_on(self, day: date) -> bool:
        return day.isoweekday() in self.days

    def opening(self, day: date) -> datetime:
        return wall(day, self.opens, self.tz)

    def closing(self, day: date) -> datetime:
        return wall(day, self.closes, self.tz)

    def next_day(self, day: date) -> date:
        """The first office day after this one."""
        day += DAY
        while not self.works_on(day):
            day += DAY
        return day

    def from_open(self, instant: datetime) -> datetime:
        """The instant itself while the office is open, else the next opening; UTC."""
        day = instant.astimezone(self.tz).date()
        if self.works_on(day) and instant < self.closing(day):
            return max(instant.astimezone(UTC), self.opening(day))
        return self.opening(self.next_day(day))


def wall(day: date, clock: time, tz: tzinfo) -> datetime:
    """The instant, in UTC, at which a clock there shows this. Of an hour that comes twice, the later one; a
    time that the clocks skip is as long after midnight as it would have been (02:30 becomes 03:30)."""
    there = datetime.combine(day, clock, tz)
    first, second = (there.replace(fold=fold).astimezone(UTC) for fold in (0, 1))
    return max(first, second)


def answer_by(asked_at: datetime, answer_hours: int, office: Office) -> datetime:
    """The deadline of somebody who is asked at this instant, in UTC. The rule stands at the top."""
    start = office.from_open(asked_at)
    full_days, rest = divmod(answer_hours, 24)
    there = start.astimezone(office.tz)
    day = there.date()
    for _ in range(full_days):
        day = office.next_day(day)
    at = start if full_days == 0 else wall(day, there.time(), office.tz)
    return _office_hours_on(at, timedelta(hours=rest), office)


def _office_hours_on(start: datetime, length: timedelta, office: Office) -> datetime:
    """The instant by which the office has been open for this long, counted in elapsed time."""
    at = office.from_open(start) if length else start
    while length:
        day = at.astimezone(office.tz).date()
        left = office.closing(day) - at
        if length <= left:
            return at + length
        length -= left
        at = office.opening(office.next_day(day))
    return at


def end_of_day(day: date, office: Office) -> datetime:
    """When a hold that stands until this day lapses: at the office's closing hour, in UTC."""
    return office.closing(day)


def undecided_from(load_in: datetime, decide_hour: time, tz: tzinfo) -> datetime:
    """The hour of the day before at which a hold is asked for a yes or no, in UTC."""
    return wall(load_in.astimezone(tz).date() - DAY, decide_hour, tz)
