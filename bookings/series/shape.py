"""What of a series a rule describes: for calendars, which say it with RRULE, EXDATE and RECURRENCE-ID. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

from bookings.series.rules import RuleRefused, occurrences


@dataclass(frozen=True, slots=True)
class Kept:
    """A session of the series. same: everything that an entry says apart from its day."""

    pk: int
    occurrence: datetime
    same: Hashable


@dataclass(frozen=True, slots=True)
class Shape:
    """model: the session that stands for the regular ones; overrides differ from it; left_out: EXDATE."""

    rule: str
    model: int
    regular: frozenset[int]
    overrides: tuple[int, ...]
    left_out: tuple[datetime, ...]


def shape_of(rule: str, starts: datetime, tz: tzinfo, kept: Sequence[Kept]) -> Shape | None:
    """None where a rule would say less than the sessions themselves: fewer than two are alike, or one isn't
    among the rule's occurrences."""
    try:
        given = [each.load_in for each in occurrences(rule, starts, tz)]
    except RuleRefused:
        return None
    if not kept or not {each.occurrence for each in kept} <= set(given):
        return None
    usual, times = Counter(each.same for each in kept).most_common(1)[0]
    if times < 2:
        return None
    regular = [each for each in kept if each.same == usual]
    here = {each.occurrence for each in kept}
    return Shape(
        rule=rule,
        model=regular[0].pk,
        regular=frozenset(each.pk for each in regular),
        overrides=tuple(each.pk for each in kept if each.same != usual),
        left_out=tuple(each for each in given if each not in here),
    )
