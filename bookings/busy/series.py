"""A series within a window: rule, extra dates, left-out dates, replaced repeats (RFC 5545 section 3.8.5)."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Hashable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import NamedTuple

from bookings.busy.entries import Entry
from bookings.busy.limits import MOST_REPEATS, Budget, Problem, RuleBudget
from bookings.busy.rules import Rule
from bookings.busy.values import DATE, DATE_TIME, Length, Stamp
from bookings.busy.walking import certain_repeats, walls

TOO_OFTEN = f"it repeats more than {MOST_REPEATS:,} times in the time that is read"
EARLIEST, LATEST = datetime(10, 1, 1), datetime(9990, 1, 1)  # noqa: DTZ001 some write 9999 for “for ever”
MARGIN = timedelta(days=2)  # wall times and UTC differ by less


class Interval(NamedTuple):
    """[start, end) in UTC."""

    start: datetime
    end: datetime


@dataclass(frozen=True, slots=True)
class Repeat:
    """One repeat as it takes place."""

    start: datetime
    end: datetime
    busy: bool


@dataclass(slots=True)
class Series:
    """An entry with the entries that replace its repeats, which stand for themselves: even when their repeat
    is left out or is none of the series, for dropping them would free time."""

    main: Entry
    replacements: list[Entry]
    window: Interval
    budget: Budget

    def intervals(self) -> Iterator[Interval]:
        main = self.main
        if not (main.rules or main.extra or main.left_out or self.replacements):
            if main.busy:
                yield Interval(main.start.instant, main.length.end(main.start.wall, main.start.zone))
            return
        for repeat in self.repeats():
            if repeat.busy:
                yield Interval(repeat.start, repeat.end)

    def repeats(self) -> list[Repeat]:
        """Those that no other entry stands for, by the rule, the extra dates and what is left out of them."""
        main, later = self.main, self.later()
        reach = self.reach(later)
        lower, upper = _moved(self.window.start, -reach), _moved(self.window.end, reach)
        lengths = dict.fromkeys(self.starts(main.rules, lower, upper, first=True), main.length)
        for dated in main.extra:
            instant = dated.stamp.instant if dated.length else self.instant_of(dated.stamp)
            if lower <= instant <= upper:
                lengths[instant] = dated.length or main.length
        for instant in self.starts(main.left_out_rules, lower, upper, first=False):
            lengths.pop(instant, None)
        replaced = [change.replaces for change in self.replacements if change.replaces]
        for instant in list(self.meant([*main.left_out, *replaced], lengths)):
            lengths.pop(instant, None)
        return [self.repeat(instant, length, later) for instant, length in lengths.items()]

    def later(self) -> list[tuple[datetime, Entry]]:
        """The changes of one repeat and all later ones, in order of that repeat."""
        changes = [(self.instant_of(c.replaces), c) for c in self.replacements if c.replaces and c.and_later]
        return sorted(changes, key=lambda change: change[0])

    def reach(self, later: list[tuple[datetime, Entry]]) -> timedelta:
        """How far outside the window a repeat may start and still matter."""
        lengths = [d.length.at_most for d in self.main.extra if d.length]
        lengths += [self.main.length.at_most, *(change.length.at_most for _, change in later)]
        shifts = [abs(change.start.instant - was) for was, change in later]
        return max(lengths) + max(shifts, default=timedelta()) + MARGIN

    def starts(self, rules: list[Rule], lower: datetime, upper: datetime, first: bool) -> set[datetime]:
        start, zone = self.main.start, self.main.start.zone
        found = {start.instant} if first and lower <= start.instant <= upper else set()
        for rule in rules if start.instant <= upper else ():
            last = until(rule.until, start)
            end = zone.wall(min(upper, _moved(last, MARGIN)) if last else upper)
            if certain_repeats(rule, start.wall, zone.wall(lower), end) > MOST_REPEATS:
                raise Problem(TOO_OFTEN)
            budget = RuleBudget(self.budget)
            for wall in walls(rule, start.wall, zone.wall(lower), end, budget, first_given=first):
                instant = zone.utc(wall)
                if last is None or instant <= last:
                    found.add(instant)
                if len(found) > MOST_REPEATS:
                    raise Problem(TOO_OFTEN)
        return found

    def repeat(self, instant: datetime, length: Length, later: list[tuple[datetime, Entry]]) -> Repeat:
        at = bisect_right(later, instant, key=lambda change: change[0])
        if at:
            return self.moved(instant, *later[at - 1])
        zone = self.main.start.zone
        end = length.end(zone.wall(instant), zone) if length.days else instant + length.exact
        return Repeat(instant, end, self.main.busy)

    def moved(self, instant: datetime, changed: datetime, change: Entry) -> Repeat:
        """A change of this and all later ones: the same shift and the new length (section 3.8.4.4)."""
        zone = change.start.zone
        wall = zone.wall(instant) + (change.start.wall - zone.wall(changed))
        return Repeat(zone.utc(wall), change.length.end(wall, zone), change.busy)

    def instant_of(self, stamp: Stamp) -> datetime:
        """The instant by which a repeat is called: a time without zone is on the series' clock, and where only
        one of the two is a date, it is the repeat of that day."""
        start = self.main.start
        if stamp.is_date != start.is_date:
            return start.zone.utc(datetime.combine(self.day_of(stamp), start.wall.time()))
        return start.zone.utc(stamp.wall) if stamp.floating else stamp.instant

    def day_of(self, stamp: Stamp) -> date:
        """Some write the days of a series as midnights, of UTC or their own."""
        if stamp.is_date or stamp.wall.time() == time():
            return stamp.wall.date()
        return self.main.start.zone.wall(stamp.instant).date()

    def meant(self, stamps: list[Stamp], starts: Iterable[datetime]) -> Iterator[datetime]:
        """Which repeats these dates mean: by instant, or by day where only one of the two has a time."""
        by_day: dict[date, list[datetime]] = {}
        if any(stamp.is_date != self.main.start.is_date for stamp in stamps):
            for instant in starts:
                by_day.setdefault(self.main.start.zone.wall(instant).date(), []).append(instant)
        for stamp in stamps:
            if stamp.is_date == self.main.start.is_date:
                yield self.instant_of(stamp)
            else:
                yield from by_day.get(self.day_of(stamp), ())


def until(text: str, start: Stamp) -> datetime | None:
    """The last instant at which a repeat may start: UTC, a local time of the event, or a date, which is taken
    through its end on the event's clock (RFC 5545 section 3.3.10). None when there is no UNTIL."""
    if not text:
        return None
    if found := DATE.fullmatch(text):
        figures = [*(int(f) for f in found.groups()), 23, 59, 59]
        utc = False
    elif found := DATE_TIME.fullmatch(text):
        figures = [int(f) for f in found.groups()[:6]]
        utc = bool(found[7])
    else:
        raise Problem(f"its repeat rule has an UNTIL that cannot be read: “{text[:40]}”")
    try:
        wall = min(max(datetime(*figures), EARLIEST), LATEST)  # type: ignore[arg-type]  # noqa: DTZ001
    except ValueError:
        raise Problem(f"its repeat rule has an UNTIL that cannot be read: “{text[:40]}”") from None
    if utc and not start.is_date:
        return wall.replace(tzinfo=UTC)
    return start.zone.utc(wall)


def _moved(instant: datetime, by: timedelta) -> datetime:
    """Kept within the calendar, with room at its ends for any zone."""
    try:
        moved = instant + by
    except OverflowError:
        moved = instant.replace(year=9990 if by > timedelta() else 10, day=1)
    return min(max(moved, moved.replace(year=10, day=1)), moved.replace(year=9990, day=1))


def versions(entries: Iterable[Entry], doubled: Callable[[Entry], None]) -> list[Entry]:
    """Of each entry the version with the highest SEQUENCE, then the latest DTSTAMP (RFC 5546 section 2.1.5).

    Equal versions with different times are all kept, and told to `doubled`: dropping one would free time.
    """
    groups: dict[Hashable, list[Entry]] = {}
    for number, entry in enumerate(entries):
        name = (entry.replaces.is_date, entry.replaces.instant) if entry.replaces else None
        groups.setdefault((entry.uid, name, entry.and_later) if entry.uid else number, []).append(entry)
    kept: list[Entry] = []
    for group in groups.values():
        highest = max(entry.version for entry in group)
        different = {entry.times: entry for entry in reversed(group) if entry.version == highest}
        if len(different) > 1:
            doubled(group[0])
        kept += different.values()
    return kept
