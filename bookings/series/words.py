"""A rule in words: “every second Tuesday, until 30 June 2027”. Pure."""

from __future__ import annotations

from datetime import datetime, timedelta, tzinfo

from bookings.busy.rules import Every, Rule
from bookings.series.rules import last_wall, read_rule
from studio.clock import say_span
from studio.spans import Span

DAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
MONTHS = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]
ORDINALS = {1: "first", 2: "second", 3: "third", 4: "fourth", 5: "fifth", -1: "last", -2: "last but one"}
UNITS = {Every.DAILY: "day", Every.WEEKLY: "week", Every.MONTHLY: "month", Every.YEARLY: "year"}


def rule_in_words(text: str, starts: datetime, tz: tzinfo, ends: datetime | None = None) -> str:
    """Like “every second Tuesday, 10:00 to 12:00, until 30 June 2027”; without `ends`, with the hour of load-in.

    ends: of the session that starts at `starts`. What is too rare for words is given as the rule itself.
    """
    rule = read_rule(text)
    wall = starts.astimezone(tz)
    hours = f"load-in {wall:%H:%M}"
    if ends and ends - starts <= timedelta(days=1):
        hours = f"{wall:%H:%M} to {ends.astimezone(tz):%H:%M}"
    return f"{_how_often(rule, wall, text)}, {hours}{_until(rule, tz)}"


def said_with_year(span: Span, tz: tzinfo) -> str:
    """Like “Thu 4 March 2027, 19:00 to 23:00”; the second day is named when it is another one."""
    return say_span(span, tz, dated=True)


def _how_often(rule: Rule, first: datetime, text: str) -> str:
    unit = UNITS[rule.every]
    every = f"every {unit}" if rule.interval == 1 else f"every {_nth(rule.interval)} {unit}"
    if rule.by_month or rule.by_week or rule.by_year_day or rule.by_position:
        return f"by the rule {text}"
    match rule.every:
        case Every.DAILY if not rule.by_day and not rule.by_month_day:
            return every
        case Every.WEEKLY:
            days = [DAYS[day] for _, day in rule.by_day] or [DAYS[first.weekday()]]
            if len(days) == 1:
                return f"every {days[0]}" if rule.interval == 1 else f"every {_nth(rule.interval)} {days[0]}"
            return f"{every} on {_and(days)}"
        case Every.MONTHLY if rule.by_day and not rule.by_month_day:
            return f"{every} on the {_and([_weekday(*each) for each in rule.by_day])}"
        case Every.MONTHLY if not rule.by_day:
            return f"{every} on day {_and([_month_day(d) for d in rule.by_month_day or (first.day,)])}"
        case Every.YEARLY if not rule.by_day and not rule.by_month_day:
            return f"{every} on {first.day} {MONTHS[first.month - 1]}"
    return f"by the rule {text}"


def _weekday(number: int, day: int) -> str:
    return f"{ORDINALS.get(number, f'{number}th')} {DAYS[day]}" if number else f"every {DAYS[day]}"


def _month_day(day: int) -> str:
    return str(day) if day > 0 else f"{ORDINALS.get(day, str(day))} of the month"


def _nth(number: int) -> str:
    return ORDINALS.get(number, f"{number}th")


def _and(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _until(rule: Rule, tz: tzinfo) -> str:
    if rule.count:
        return f", {rule.count} times"
    last = last_wall(rule, tz)
    return f", until {last.day} {MONTHS[last.month - 1]} {last.year}" if last else ""
