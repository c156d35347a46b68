"""Goes through the repeats of a rule within a window and a budget (RFC 5545 section 3.3.10).

Written here because the well-kept expanders can't be bounded from outside: a rule that never matches keeps
them looking until the year 9999 without giving anything back. A rule without COUNT starts at the window, not
at its first date; each day or time that is looked at costs a step.
"""

from __future__ import annotations

from calendar import isleap, monthrange
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime, time
from itertools import product

from bookings.busy.limits import RuleBudget
from bookings.busy.rules import Every, Rule


def completed(rule: Rule, first: datetime) -> Rule:
    """What the rule leaves open is taken from the first date (RFC 5545 section 3.3.10)."""
    if rule.by_year_day or rule.by_month_day or rule.by_day:
        return rule
    if rule.every == Every.WEEKLY or rule.by_week:
        return replace(rule, by_day=((0, first.weekday()),))
    if rule.every == Every.YEARLY:
        return replace(rule, by_month=rule.by_month or (first.month,), by_month_day=(first.day,))
    if rule.every == Every.MONTHLY:
        return replace(rule, by_month_day=(first.day,))
    return rule


def certain_repeats(rule: Rule, first: datetime, lower: datetime, upper: datetime) -> int:
    """A number of repeats within [lower, upper] that the rule has at least, told without walking it."""
    if not rule.plain or rule.until:
        return 0
    before = max((rule.index(lower) - rule.index(first)) // rule.interval, 0)
    until_then = (rule.index(upper) - rule.index(first)) // rule.interval
    return min(until_then, rule.count or until_then) - before


def walls(
    rule: Rule,
    first: datetime,
    lower: datetime,
    upper: datetime,
    budget: RuleBudget,
    *,
    first_given: bool = True,
) -> Iterator[datetime]:
    """Starts on the wall clock, in order, within [lower, upper]. A first that is given is one whether it fits
    the rule or not, and counts as one; else only if it fits.

    first, lower, upper: without zone. UNTIL is the caller's: it needs the zone. Raises Problem when the
    budget is spent.
    """
    if first_given and lower <= first <= upper:
        yield first
    walk = Walk(rule, first, budget, first_given)
    for number, wall in walk.numbered(lower, upper):
        if wall > upper or (rule.count is not None and number > rule.count):
            return
        if wall >= lower:
            yield wall


class Walk:
    """Goes through the periods of a rule: years, months, weeks, days, hours, minutes or seconds."""

    def __init__(self, rule: Rule, first: datetime, budget: RuleBudget, first_given: bool) -> None:
        self.first_given = first_given
        self.plain = rule.plain
        self.rule = completed(rule, first)
        self.first = first
        self.budget = budget
        self.hours = self.rule.by_hour or (first.hour,)
        self.minutes = self.rule.by_minute or (first.minute,)
        self.seconds = self.rule.by_second or (first.second,)

    def numbered(self, lower: datetime, upper: datetime) -> Iterator[tuple[int, datetime]]:
        """Starts with their numbers, from about `lower` on. A given first is number 1 and not among them."""
        index, last = self.rule.index(self.first), self.rule.index(upper)
        number = int(self.first_given)
        if lower > self.first and (self.rule.count is None or self.plain):
            ahead = (self.rule.index(lower) - index) // self.rule.interval
            index += ahead * self.rule.interval
            number = max(ahead, number)
        not_before = lower if self.rule.count is None else self.first
        while index <= last:
            self.budget.spend()
            dates = self.dates(index)
            for wall in self.starts(index, dates, max(not_before, self.first)):
                if wall > self.first or (wall == self.first and not self.first_given):
                    number += 1
                    yield number, wall
            index = self.next_index(index, bool(dates))

    def next_index(self, index: int, day_fits: bool) -> int:
        """The next period; past the rest of a day that doesn't fit."""
        interval = self.rule.interval
        if day_fits or self.rule.every < Every.HOURLY:
            return index + interval
        in_day = {Every.HOURLY: 24, Every.MINUTELY: 1440, Every.SECONDLY: 86400}[self.rule.every]
        to_next_day = in_day - index % in_day
        return index + -(-to_next_day // interval) * interval

    def dates(self, index: int) -> list[date]:
        """The days of a period that fit, in order."""
        match self.rule.every:
            case Every.YEARLY:
                months = self.rule.by_month or range(1, 13)
                return [day for month in months for day in self.month(index, month)]
            case Every.MONTHLY:
                return self.month(index // 12, index % 12 + 1)
            case Every.WEEKLY:
                start = index * 7 + 1 + self.rule.week_start
                return self.fitting(_dates(range(start, start + 7)))
            case Every.DAILY:
                return self.fitting(_dates([index]))
        in_day = {Every.HOURLY: 24, Every.MINUTELY: 1440, Every.SECONDLY: 86400}[self.rule.every]
        return self.fitting(_dates([index // in_day]))

    def month(self, year: int, month: int) -> list[date]:
        length = monthrange(year, month)[1]
        days: Sequence[int] = range(1, length + 1)
        if self.rule.by_month_day:
            wanted = {d if d > 0 else length + 1 + d for d in self.rule.by_month_day}
            days = sorted(wanted & set(days))
        return self.fitting([date(year, month, day) for day in days])

    def fitting(self, days: list[date]) -> list[date]:
        self.budget.spend(len(days))
        return [day for day in days if self.fits(day)]

    def fits(self, day: date) -> bool:
        rule = self.rule
        if rule.by_month and day.month not in rule.by_month:
            return False
        if rule.by_month_day:
            length = monthrange(day.year, day.month)[1]
            if not _either(day.day, length, rule.by_month_day):
                return False
        if rule.by_year_day and not _either(_year_day(day), _year_length(day.year), rule.by_year_day):
            return False
        if rule.by_week and not _either(*week_number(day, rule.week_start), rule.by_week):
            return False
        return not rule.by_day or any(self.is_the(number, weekday, day) for number, weekday in rule.by_day)

    def is_the(self, number: int, weekday: int, day: date) -> bool:
        """Whether the day is that weekday: any, or the number-th of its month or year."""
        if day.weekday() != weekday:
            return False
        if not number:
            return True
        if self.rule.every == Every.YEARLY and not self.rule.by_month:
            at, length = _year_day(day), _year_length(day.year)
        else:
            at, length = day.day, monthrange(day.year, day.month)[1]
        return number == ((at - 1) // 7 + 1 if number > 0 else -((length - at) // 7 + 1))

    def starts(self, index: int, dates: list[date], not_before: datetime) -> Iterator[datetime]:
        """The period's starts in order; those before `not_before` may be left out, or not."""
        hours, minutes, seconds = self.times(index)
        if not (dates and hours and minutes and seconds):
            return
        if self.rule.by_position:
            yield from self.positions(dates, hours, minutes, seconds)
            return
        for day in dates:
            if day < not_before.date():
                continue
            for hour, minute, second in product(hours, minutes, seconds):
                self.budget.spend()
                yield datetime.combine(day, time(hour, minute, second))

    def times(self, index: int) -> tuple[Sequence[int], Sequence[int], Sequence[int]]:
        """Hours, minutes and seconds of the starts in a period; an empty one where nothing fits."""
        rule = self.rule
        if rule.every <= Every.DAILY:
            return self.hours, self.minutes, self.seconds
        if rule.every == Every.HOURLY:
            return _if_in(index % 24, rule.by_hour), self.minutes, self.seconds
        if rule.every == Every.MINUTELY:
            hour, minute = index // 60 % 24, index % 60
            return _if_in(hour, rule.by_hour), _if_in(minute, rule.by_minute), self.seconds
        hour, minute, second = index // 3600 % 24, index // 60 % 60, index % 60
        return _if_in(hour, rule.by_hour), _if_in(minute, rule.by_minute), _if_in(second, rule.by_second)

    def positions(
        self, dates: list[date], hours: Sequence[int], minutes: Sequence[int], seconds: Sequence[int]
    ) -> Iterator[datetime]:
        """BYSETPOS: the n-th start of the period, found without writing the others out."""
        of_minute, of_hour = len(seconds), len(seconds) * len(minutes)
        of_day = of_hour * len(hours)
        whole = of_day * len(dates)
        wanted = {p - 1 if p > 0 else whole + p for p in self.rule.by_position}
        for at in sorted(p for p in wanted if 0 <= p < whole):
            self.budget.spend()
            day, rest = divmod(at, of_day)
            hour, rest = divmod(rest, of_hour)
            minute, second = divmod(rest, of_minute)
            yield datetime.combine(dates[day], time(hours[hour], minutes[minute], seconds[second]))


def week_number(day: date, week_start: int) -> tuple[int, int]:
    """Which week of its year the day lies in, and how many that year has: week 1 has at least four days of
    the year (RFC 5545 section 3.3.10, after ISO 8601)."""
    middle = day.toordinal() - (day.weekday() - week_start) % 7 + 3
    year = date.fromordinal(min(max(middle, 1), date.max.toordinal()))
    number = (_year_day(year) - 1) // 7 + 1
    return number, number + (_year_length(year.year) - _year_day(year)) // 7


def _dates(ordinals: Sequence[int]) -> list[date]:
    return [date.fromordinal(o) for o in ordinals if 1 <= o <= date.max.toordinal()]


def _either(number: int, of: int, wanted: Sequence[int]) -> bool:
    """Counted from the start, or with a minus from the end."""
    return number in wanted or number - of - 1 in wanted


def _if_in(value: int, wanted: Sequence[int]) -> Sequence[int]:
    return (value,) if not wanted or value in wanted else ()


def _year_day(day: date) -> int:
    return day.timetuple().tm_yday


def _year_length(year: int) -> int:
    return 366 if isleap(year) else 365
