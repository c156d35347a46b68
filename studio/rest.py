"""Daily and weekly rest between a person's calls, compared with a site's rule. Pure.

Directive 2003/88/EC, Article 3: eleven hours in a row in every 24 hours. Article 5: in every seven days 24 hours
in a row, and the eleven of Article 3 with them: 35. A period is counted from the start of work after a break (one
that began within a rest would cut that rest in two and ask for more than the directive does), so that two calls
on one day with a pause between them are no short rest. Elapsed time, whatever the clocks do. It warns and decides
nothing: what holds for whom is said by local law.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, timedelta, tzinfo

from studio.clock import say, say_length
from studio.spans import Span, gaps, merged

NO_REST = timedelta()


@dataclass(frozen=True, slots=True)
class Call:
    """Time that a person works, with an end, and what for."""

    span: Span
    title: str


@dataclass(frozen=True, slots=True)
class Rule:
    """`least` of unbroken rest in every `period`; words name the period, source the law it comes from."""

    least: timedelta
    period: timedelta
    words: str
    source: str


@dataclass(frozen=True, slots=True)
class Short:
    """The longest rest of a period where it is shorter than the rule. last, next: the calls around it."""

    rule: Rule
    period: Span
    rest: timedelta
    last: Call | None
    next: Call | None

    @property
    def pause(self) -> timedelta:
        """From call to call: longer than the rest where the period begins or ends within it."""
        if not (self.last and self.last.span.end and self.next):
            return self.rest
        return self.next.span.start.astimezone(UTC) - self.last.span.end.astimezone(UTC)


def rules(daily_hours: float, weekly_hours: float) -> list[Rule]:
    """The rules of a site; 0 hours for none."""
    every = [
        Rule(
            timedelta(hours=daily_hours),
            timedelta(hours=24),
            "24 hours",
            "Directive 2003/88/EC, Article 3: 11 h",
        ),
        Rule(
            timedelta(hours=weekly_hours),
            timedelta(days=7),
            "seven days",
            "Directive 2003/88/EC, Articles 3 and 5: 35 h",
        ),
    ]
    return [rule for rule in every if rule.least]


def short_rests(standing: Iterable[Call], new: Sequence[Call], rules: Iterable[Rule]) -> list[Short]:
    """What new calls do to the rest of somebody who has the standing ones. For each rule at most two: the shortest
    rest of the periods that began before the new calls, and the shortest of those that begin with them."""
    before_all, found = list(standing), list[Short]()
    for rule in rules:
        periods = list(_broken(before_all, new, rule))
        first = min((block.start for block in _blocks_of(before_all, new)), default=None)
        before = [short for short in periods if first and short.period.start < first]
        after = [short for short in periods if short not in before]
        shortest = [min(side, key=lambda short: short.rest) for side in (before, after) if side]
        found += {_around(short): short for short in reversed(shortest)}.values()
    return sorted(found, key=lambda short: (short.rule.period, short.period.start))


def all_short_rests(calls: Sequence[Call], rules: Iterable[Rule]) -> list[Short]:
    """Every period of these calls whose longest rest is too short, each rest told once; first come first."""
    found: dict[object, Short] = {}
    for rule in rules:
        for block in merged(call.span for call in calls):
            short = _longest(calls, _period(block, rule), rule)
            if short.rest < rule.least:
                found.setdefault((rule, _around(short)), short)
    return sorted(found.values(), key=lambda short: short.period.start)


def longest_rest(spans: Iterable[Span], period: Span) -> Span | None:
    """The longest unbroken time of the period that none of the spans takes; None when they take all of it."""
    return max(gaps(spans, period), key=lambda gap: gap.length, default=None)


def rests_before(calls: Iterable[Call]) -> list[tuple[Call, timedelta | None]]:
    """Each call in order with the time since the last work before it ended; None for the first."""
    found: list[tuple[Call, timedelta | None]] = []
    worked_until = None
    for call in sorted(calls, key=lambda call: call.span.start):
        since = call.span.start.astimezone(UTC) - worked_until if worked_until else None
        found.append((call, None if since is None else max(since, NO_REST)))
        end = (call.span.end or call.span.start).astimezone(UTC)
        worked_until = max(worked_until or end, end)
    return found


def sentence(name: str, short: Short, tz: tzinfo, has: str = "would have") -> str:
    """How long the rest would be, between which calls, the rule, and who decides."""
    rest = f"{say_length(short.pause)} of" if short.pause else "no"
    least = say_length(short.rule.least)
    part = f" of which {say_length(short.rest)} lie" if short.pause > short.rest else ""
    return (
        f"{name} {has} {rest} unbroken rest{_between(short, tz)}{part} in the {short.rule.words} from "
        f"{say(short.period.start, tz)}. The rule here is {least} ({short.rule.source}): check local law."
    )


def in_short(names: Sequence[str], short: Short) -> str:
    """Where the rule is told beside it: “Ida and Ole: 9 h of rest before “Choir”, less than 11 h in 24 hours”."""
    before = f" before “{short.next.title}”" if short.next else ""
    part = f" {say_length(short.rest)} of it count:" if short.pause > short.rest else ""
    rule = f"less than {say_length(short.rule.least)} in {short.rule.words}"
    return f"{' and '.join(names)}: {say_length(short.pause)} of rest{before},{part} {rule}"


def told_once(rule: Rule) -> str:
    """The rule beside what falls under it, and who decides."""
    return f"{say_length(rule.least)} of rest in {rule.words}: {rule.source}. Check local law."


def _between(short: Short, tz: tzinfo) -> str:
    last, following = short.last, short.next
    until = f"“{last.title}” (until {say(last.span.end, tz)})" if last and last.span.end else ""
    since = f"“{following.title}” (from {say(following.span.start, tz)})" if following else ""
    if until and since:
        return f" between {until} and {since},"
    return f" after {until}," if until else f" before {since}," if since else ""


def _around(short: Short) -> tuple[Call | None, Call | None]:
    return short.last, short.next


def _broken(standing: list[Call], new: Sequence[Call], rule: Rule) -> Iterator[Short]:
    """Periods that touch a new call and have too short a rest, which was longer without the new ones."""
    calls = [*standing, *new]
    own = _blocks_of(standing, new)
    for block in merged(call.span for call in calls):
        period = _period(block, rule)
        if not any(period.overlaps(call.span) for call in new):
            continue
        short = _longest(calls, period, rule)
        if short.rest < rule.least and (block in own or short.rest < _longest(standing, period, rule).rest):
            yield short


def _blocks_of(standing: Iterable[Call], new: Sequence[Call]) -> list[Span]:
    """The stretches without a pause that new calls are part of."""
    blocks = merged(call.span for call in (*standing, *new))
    return [block for block in blocks if any(block.overlaps(call.span) for call in new)]


def _period(block: Span, rule: Rule) -> Span:
    start = block.start.astimezone(UTC)
    return Span(start, start + rule.period)


def _longest(calls: Sequence[Call], period: Span, rule: Rule) -> Short:
    rest = longest_rest((call.span for call in calls), period)
    if rest is None or rest.end is None:
        return Short(rule, period, NO_REST, None, None)
    last = max(
        (call for call in calls if call.span.end and call.span.end <= rest.start),
        key=lambda call: call.span.end or period.start,
        default=None,
    )
    following = min(
        (call for call in calls if call.span.start >= rest.end),
        key=lambda call: call.span.start,
        default=None,
    )
    return Short(rule, period, rest.length, last, following)
