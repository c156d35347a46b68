"""Recurrence rules (RFC 5545 section 3.3.10), read strictly: what can't be is told before it is walked."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import datetime
from enum import IntEnum
from typing import Any

from bookings.busy.limits import Problem

WEEKDAYS = ["MO", "TU", "WE", "TH", "FR", "SA", "SU"]
ORDINAL_DAY = re.compile(r"([+-]?\d{1,2})?(MO|TU|WE|TH|FR|SA|SU)")
MOST_LETTERS = 4_000
NUMBER = re.compile(r"[+-]?\d{1,10}", re.ASCII)


class Every(IntEnum):
    YEARLY = 0
    MONTHLY = 1
    WEEKLY = 2
    DAILY = 3
    HOURLY = 4
    MINUTELY = 5
    SECONDLY = 6


@dataclass(frozen=True, slots=True)
class Rule:
    """by_day holds (ordinal, weekday): ordinal 0 is every one, Monday is 0. until is the text as written."""

    every: Every
    interval: int = 1
    count: int | None = None
    until: str = ""
    week_start: int = 0
    by_month: tuple[int, ...] = ()
    by_week: tuple[int, ...] = ()
    by_year_day: tuple[int, ...] = ()
    by_month_day: tuple[int, ...] = ()
    by_day: tuple[tuple[int, int], ...] = ()
    by_hour: tuple[int, ...] = ()
    by_minute: tuple[int, ...] = ()
    by_second: tuple[int, ...] = ()
    by_position: tuple[int, ...] = ()

    @property
    def plain(self) -> bool:
        """Exactly one repeat in each period."""
        return self.every >= Every.WEEKLY and replace(
            self, interval=1, count=None, until="", week_start=0
        ) == Rule(self.every)

    def index(self, moment: datetime) -> int:
        """The number of the period that the moment lies in, counted from the year 0."""
        day = moment.toordinal()
        match self.every:
            case Every.YEARLY:
                return moment.year
            case Every.MONTHLY:
                return moment.year * 12 + moment.month - 1
            case Every.WEEKLY:
                return (day - 1 - self.week_start) // 7
            case Every.DAILY:
                return day
            case Every.HOURLY:
                return day * 24 + moment.hour
            case Every.MINUTELY:
                return (day * 24 + moment.hour) * 60 + moment.minute
        return ((day * 24 + moment.hour) * 60 + moment.minute) * 60 + moment.second


# part: (field, least, most, whether a minus counts from the end)
LISTS = {
    "BYMONTH": ("by_month", 1, 12, False),
    "BYWEEKNO": ("by_week", 1, 53, True),
    "BYYEARDAY": ("by_year_day", 1, 366, True),
    "BYMONTHDAY": ("by_month_day", 1, 31, True),
    "BYHOUR": ("by_hour", 0, 23, False),
    "BYMINUTE": ("by_minute", 0, 59, False),
    "BYSECOND": ("by_second", 0, 60, False),
    "BYSETPOS": ("by_position", 1, 366, True),
}


def parse_rule(text: str) -> Rule:
    """The rule, or a Problem that names the part which can't be."""
    if len(text) > MOST_LETTERS:
        raise Problem("its repeat rule is too long to be read")
    parts: dict[str, str] = {}
    for part in text.upper().replace(" ", "").split(";"):
        name, _, value = part.partition("=")
        if name in parts:
            raise Problem(f"its repeat rule gives {name} twice")
        if part:
            parts[name] = value
    if parts.get("FREQ") not in Every.__members__:
        raise Problem(f"its repeat rule has no FREQ that can be read: “{text[:60]}”")
    every = Every[parts.pop("FREQ")]
    return _checked(Rule(every, **{k: v for name, value in parts.items() for k, v in _part(name, value)}))


def _part(name: str, value: str) -> list[tuple[str, Any]]:
    if name in LISTS:
        field, least, most, signed = LISTS[name]
        return [(field, tuple(sorted({_number(name, v, least, most, signed) for v in value.split(",")})))]
    if name in ("INTERVAL", "COUNT"):
        return [(name.lower(), _number(name, value, 1, 10**10, False))]
    if name == "BYDAY":
        return [("by_day", tuple(sorted({_ordinal_day(v) for v in value.split(",")})))]
    if name == "WKST" and value in WEEKDAYS:
        return [("week_start", WEEKDAYS.index(value))]
    if name == "UNTIL":
        return [("until", value)]
    if (name, value) in (("RSCALE", "GREGORIAN"), ("SKIP", "OMIT")) or name.startswith("X-"):
        return []
    raise Problem(f"its repeat rule has a part that can't be read: {name[:20]}={value[:20]}")


def _number(name: str, text: str, least: int, most: int, signed: bool) -> int:
    number = int(text) if NUMBER.fullmatch(text) else least - 1
    size = abs(number) if signed else number
    if not least <= size <= most:
        if name == "INTERVAL":
            raise Problem(f"INTERVAL must be a whole number of at least 1, not “{text[:20]}”")
        raise Problem(f"its repeat rule has a value that can't be: {name}={text[:20]}")
    return number


def _ordinal_day(text: str) -> tuple[int, int]:
    found = ORDINAL_DAY.fullmatch(text)
    number = int(found[1]) if found and found[1] else 0
    if not found or abs(number) > 53 or (found[1] and not number):
        raise Problem(f"its repeat rule has a weekday that can't be read: BYDAY={text[:20]}")
    return number, WEEKDAYS.index(found[2])


def _checked(rule: Rule) -> Rule:
    numbered = any(number for number, _ in rule.by_day)
    if numbered and (rule.every not in (Every.YEARLY, Every.MONTHLY) or rule.by_week):
        raise Problem("its repeat rule numbers weekdays (BYDAY), which only monthly and yearly rules can")
    if rule.by_week and rule.every != Every.YEARLY:
        raise Problem("its repeat rule gives BYWEEKNO, which only a yearly rule can")
    if rule.by_second and 60 in rule.by_second:  # a leap second is read as the one before (section 3.3.12)
        rule = replace(rule, by_second=tuple(sorted({min(second, 59) for second in rule.by_second})))
    return rule
