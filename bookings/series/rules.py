"""When a series takes place: an RRULE to load-ins on a wall clock, bounded before it is walked. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from itertools import islice

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
    """Raises RuleRefused for what can't be read, for what no session repeats by, and for what never ends."""
    rule = _read(text)
    if not rule.count and not rule.until:
        raise RuleRefused("A rule without an end can't be booked: add COUNT or UNTIL to it.")
    return rule


def _read(text: str) -> Rule:
    try:
        rule = parse_rule(text.strip().removeprefix("RRULE:"))
    except Problem as problem:
        raise RuleRefused(f"The rule can't be used: {problem}.") from None
    if rule.every > Every.DAILY or rule.by_hour or rule.by_minute or rule.by_second:
        raise RuleRefused(
            "Sessions repeat by days, weeks, months or years. Take the hours out of the rule: the hour is the "
            "first session's."
        )
    if rule.count and rule.until:
        raise RuleRefused("Give either COUNT or UNTIL, not both.")
    return rule


def with_end(text: str, starts: datetime, tz: tzinfo) -> str:
    """The rule itself, or, where it names no end, as far as the house books ahead. Raises RuleRefused."""
    rule = _read(text)
    if rule.count or rule.until:
        return text
    first = starts.astimezone(tz).replace(tzinfo=None)
    try:
        all_walls = walls(rule, first, first, first + FARTHEST, RuleBudget(Budget()))
        found = list(islice(all_walls, MOST_OCCURRENCES))
    except Problem as problem:
        raise RuleRefused(f"The rule can't be used: {problem}.") from None
    return rule_text(replace(rule, until=as_until(_instant(found[-1], tz))))


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
            found.append(Occurrence(starts.astimezone(UTC)) if wall == first else _occurrence(wall, tz))
            if len(found) > MOST_OCCURRENCES:
                raise RuleRefused(
                    f"That is more than {MOST_OCCURRENCES} sessions at once. Let the rule end earlier."
                )
    except Problem as problem:
        raise RuleRefused(f"The rule can't be used: {problem}.") from None
    if rule.count and len(found) < rule.count:
        raise RuleRefused("Two years ahead is the most: take a smaller COUNT.")
    return found


def gives_its_start(text: str, starts: datetime, tz: tzinfo) -> bool:
    """Whether the first occurrence is one by the rule as well; it counts as one in any case."""
    first, budget = starts.astimezone(tz).replace(tzinfo=None), RuleBudget(Budget())
    return next(walls(read_rule(text), first, first, first, budget, first_given=False), None) == first


def _occurrence(wall: datetime, tz: tzinfo) -> Occurrence:
    return Occurrence(_instant(wall, tz), touched(wall, tz))


def _instant(wall: datetime, tz: tzinfo) -> datetime:
    """In UTC, by RFC 5545 section 3.3.5 where a clock change skips the wall time or shows it twice."""
    return wall.replace(tzinfo=tz, fold=0).astimezone(UTC)


def touched(wall: datetime, tz: tzinfo) -> str:
    """What a clock change does to the wall time; nothing where none touches it."""
    trouble = twice_or_never(wall, tz)
    if trouble == "never":
        meant = _instant(wall, tz).astimezone(tz)
        return f"the clock skips {wall:%H:%M}: {meant:%H:%M} that day"
    return f"the clock shows {wall:%H:%M} twice: the first" if trouble else ""


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


def wall_shift(before: datetime, after: datetime, tz: tzinfo, after_tz: tzinfo | None = None) -> timedelta:
    """How far apart two instants are on the wall clock; after_tz: the second one's clock, if it is another."""
    return after.astimezone(after_tz or tz).replace(tzinfo=None) - before.astimezone(tz).replace(tzinfo=None)


def shifted(instant: datetime, shift: timedelta, tz: tzinfo, into: tzinfo | None = None) -> datetime:
    """The instant, in UTC, whose wall time is so much later; into: on the clock of another zone."""
    if not shift and into in (None, tz):
        return instant
    return _instant(instant.astimezone(tz).replace(tzinfo=None) + shift, into or tz)


def as_until(last: datetime) -> str:
    """UNTIL of a rule whose last occurrence is at the instant."""
    return f"{last.astimezone(UTC):%Y%m%dT%H%M%SZ}"


def ended_with(text: str, last: datetime) -> str:
    """The same rule with this one as its last occurrence."""
    return rule_text(replace(read_rule(text), count=None, until=as_until(last)))


def moved_rule(
    text: str, given: Sequence[datetime], shift: timedelta, tz: tzinfo, into: tzinfo | None = None
) -> str | None:
    """The rule that gives these occurrences of the old one, all so much later on the wall clock.

    COUNT is what is left, weekdays turn with the days. None where no rule says it: “the third Tuesday” a day
    later isn't always the third Wednesday.
    """
    rule, into = read_rule(text), into or tz
    first = given[0].astimezone(tz).replace(tzinfo=None)
    days = ((first + shift).date() - first.date()).days
    wanted = [shifted(each, shift, tz, into) for each in given]
    turned = tuple(sorted((number, (weekday + days) % 7) for number, weekday in rule.by_day))
    until = _later(rule.until, days, wanted[-1]) if rule.until else ""
    moved = rule_text(replace(rule, by_day=turned, count=len(given) if rule.count else None, until=until))
    try:
        gives = [each.load_in for each in occurrences(moved, wanted[0], into)]
    except RuleRefused:
        return None
    return moved if gives == wanted else None


def _later(until: str, days: int, last: datetime) -> str:
    """An UNTIL of a whole day stays one."""
    if found := DATE.fullmatch(until):
        year, month, day = (int(figures) for figures in found.groups())
        return (date(year, month, day) + timedelta(days=days)).isoformat().replace("-", "")
    return as_until(last)


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
