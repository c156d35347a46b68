"""When a series takes place: an RRULE to load-ins on a wall clock, bounded before it is walked. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, tzinfo

from bookings.busy.limits import Budget, Problem, RuleBudget
from bookings.busy.rules import WEEKDAYS, Every, Rule, parse_rule
from bookings.busy.values import DATE, DATE_TIME
from bookings.busy.walking import walls
from studio.clock import twice_or_never

MOST_OCCURRENCES = 200
FARTHEST = timedelta(days=731)


class RuleRefused(ValueError):
    """The message is a sentence that says what to do."""


@dataclass(frozen=True, slots=True)
class Occurrence:
    """load_in is in UTC. clock says where a clock change touches its wall time."""

    load_in: datetime
    clock: str = ""


def read_rule(text: str) -> Rule:
    """Raises RuleRefused for what can't be read, and for what no session repeats by."""
    try:
        rule = parse_rule(text.strip().removeprefix("RRULE:"))
    except Problem as problem:
        raise RuleRefused(f"The rule can't be used: {problem}.") from None
    if rule.every > Every.DAILY or rule.by_hour or rule.by_minute or rule.by_second:
        raise RuleRefused(
            "Sessions repeat by days, weeks, months or years. Take the hours out of the rule: the hour is the "
            "first session's."
        )
    if not rule.count and not rule.until:
        raise RuleRefused("A rule without an end can't be booked: add COUNT or UNTIL to it.")
    if rule.count and rule.until:
        raise RuleRefused("Give either COUNT or UNTIL, not both.")
    return rule


def occurrences(text: str, starts: datetime, tz: tzinfo) -> list[Occurrence]:
    """All of them, the first being `starts` itself. Raises RuleRefused, also for more than a house can book.

    A wall time that the clock skips is meant with the offset before the gap, one that it shows twice is the
    first (RFC 5545 section 3.3.5).
    """
    rule = read_rule(text)
    first = starts.astimezone(tz).replace(tzinfo=None)
    limit = first + FARTHEST
    last = last_wall(rule, tz)
    if last and last > limit:
        raise RuleRefused("Two years ahead is the most: let the rule end earlier, and go on with a new one.")
    found = []
    try:
        for wall in walls(rule, first, first, min(last or limit, limit), RuleBudget(Budget())):
            found.append(_occurrence(wall, tz))
            if len(found) > MOST_OCCURRENCES:
                raise RuleRefused(
                    f"That is more than {MOST_OCCURRENCES} sessions at once. Let the rule end earlier."
                )
    except Problem as problem:
        raise RuleRefused(f"The rule can't be used: {problem}.") from None
    if rule.count and len(found) < rule.count:
        raise RuleRefused("Two years ahead is the most: take a smaller COUNT.")
    return found


def _occurrence(wall: datetime, tz: tzinfo) -> Occurrence:
    trouble = twice_or_never(wall, tz)
    instant = wall.replace(tzinfo=tz, fold=0).astimezone(UTC)
    if trouble == "never":
        return Occurrence(instant, f"the clock skips {wall:%H:%M}: {instant.astimezone(tz):%H:%M} that day")
    return Occurrence(instant, f"the clock shows {wall:%H:%M} twice: the first" if trouble else "")


def last_wall(rule: Rule, tz: tzinfo) -> datetime | None:
    """UNTIL on the wall clock, a date through its end (RFC 5545 section 3.3.10). None: no UNTIL."""
    if not rule.until:
        return None
    try:
        if found := DATE.fullmatch(rule.until):
            year, month, day = (int(figures) for figures in found.groups())
            return datetime(year, month, day, 23, 59, 59)  # noqa: DTZ001
        if found := DATE_TIME.fullmatch(rule.until):
            wall = datetime(*(int(f) for f in found.groups()[:6]))  # type: ignore[arg-type]  # noqa: DTZ001
            return wall.replace(tzinfo=UTC).astimezone(tz).replace(tzinfo=None) if found[7] else wall
    except ValueError:
        pass
    raise RuleRefused(f"The rule's UNTIL can't be read: “{rule.until[:30]}”. Write it like 20270630.")


def wall_shift(before: datetime, after: datetime, tz: tzinfo) -> timedelta:
    """How far apart two instants are on the wall clock."""
    return after.astimezone(tz).replace(tzinfo=None) - before.astimezone(tz).replace(tzinfo=None)


def shifted(instant: datetime, shift: timedelta, tz: tzinfo) -> datetime:
    """The instant whose wall time is so much later."""
    wall = instant.astimezone(tz).replace(tzinfo=None) + shift
    return wall.replace(tzinfo=tz, fold=0).astimezone(UTC)


def ended_before(text: str, instant: datetime) -> str:
    """The same rule, with its last occurrence before the instant."""
    last = (instant - timedelta(seconds=1)).astimezone(UTC)
    return rule_text(replace(read_rule(text), count=None, until=f"{last:%Y%m%dT%H%M%SZ}"))


def begun_later(text: str, left: int, shift: timedelta) -> str | None:
    """The rule of what is left of a series when it is moved: COUNT is what is left, weekdays turn with the
    days. None where no rule says it: “the third Tuesday” a day later isn't always the third Wednesday."""
    rule = read_rule(text)
    days = shift.days if shift >= timedelta() else -((-shift).days)
    if rule.count:
        rule = replace(rule, count=left)
    if days:
        if rule.every not in (Every.DAILY, Every.WEEKLY) or rule.by_month or rule.by_position:
            return None
        if rule.by_month_day or rule.by_year_day:
            return None
        turned = tuple(sorted((number, (weekday + days) % 7) for number, weekday in rule.by_day))
        rule = replace(rule, by_day=turned)
    return rule_text(rule)


def rule_text(rule: Rule) -> str:
    """The RRULE value that says the rule."""
    return ";".join(_parts(rule))


def _parts(rule: Rule) -> Iterator[str]:
    yield f"FREQ={rule.every.name}"
    if rule.interval != 1:
        yield f"INTERVAL={rule.interval}"
    if rule.count:
        yield f"COUNT={rule.count}"
    if rule.until:
        yield f"UNTIL={rule.until}"
    lists = [
        ("BYMONTH", rule.by_month),
        ("BYWEEKNO", rule.by_week),
        ("BYYEARDAY", rule.by_year_day),
        ("BYMONTHDAY", rule.by_month_day),
        ("BYSETPOS", rule.by_position),
    ]
    for name, values in lists:
        if values:
            yield f"{name}={','.join(map(str, values))}"
    if rule.by_day:
        yield f"BYDAY={','.join(f'{number or str()}{WEEKDAYS[day]}' for number, day in rule.by_day)}"
    if rule.week_start:
        yield f"WKST={WEEKDAYS[rule.week_start]}"
