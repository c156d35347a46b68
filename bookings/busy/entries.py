"""One VEVENT or VFREEBUSY as it was meant. What is wrong with it is kept beside it, in words."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from urllib.parse import unquote

from bookings.busy.limits import MOST_REPEATS, Budget, Problem
from bookings.busy.lines import Component, Line
from bookings.busy.rules import Every, Rule, parse_rule
from bookings.busy.values import Length, Stamp, duration, period, stamp
from bookings.busy.zones import Zones

OF_ANOTHER_KIND = {
    False: "it has times and an extra date without one; the entry's own hour is taken",
    True: "it has whole days and an extra date with a time; the whole day is taken",
}
ANSWERED_NO = {"DECLINED", "DELEGATED"}


@dataclass(frozen=True, slots=True)
class Dated:
    """A further date of a series; length None means the series' own."""

    stamp: Stamp
    length: Length | None = None


@dataclass(slots=True)
class Entry:
    """busy: whether it takes the person's time. replaces: the repeat of a series that stands aside for it."""

    component: Component
    uid: str
    version: tuple[int, str]
    start: Stamp
    length: Length
    busy: bool
    cancelled: bool = False
    rules: list[Rule] = field(default_factory=list)
    left_out_rules: list[Rule] = field(default_factory=list)
    extra: list[Dated] = field(default_factory=list)
    left_out: list[Stamp] = field(default_factory=list)
    replaces: Stamp | None = None
    and_later: bool = False

    @property
    def times(self) -> Hashable:
        """What two copies of one version must agree in."""
        extra = tuple((dated.stamp.instant, dated.length) for dated in self.extra)
        left_out = tuple(stamp.instant for stamp in self.left_out)
        return self.start.instant, self.length, tuple(self.rules), extra, left_out, self.busy


@dataclass(frozen=True, slots=True)
class Period:
    """A busy time of a VFREEBUSY."""

    start: datetime
    end: datetime


Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Reader:
    """Reads the entries of one calendar. owner: the person's mail address in small letters, or nothing.

    fault, note: told in words, fault when something was wrong with the entry, note when the calendar only had
    to be interpreted.
    """

    zones: Zones
    budget: Budget
    owner: str
    cancels: bool
    fault: Say
    note: Say

    def event(self, component: Component) -> Entry:
        """Raises Problem when the entry can't be taken."""
        cancelled = self.cancels or component.token("STATUS") == "CANCELLED"
        start = self.start(component, cancelled)
        length = self.length(component, start)
        free = cancelled or component.token("TRANSP") == "TRANSPARENT" or self.declined(component)
        entry = Entry(
            component,
            component.text("UID"),
            (_whole_number(component.text("SEQUENCE")), component.text("DTSTAMP")),
            start,
            length,
            busy=not free,
            cancelled=cancelled,
            rules=[self.rule(line, start) for line in component.all("RRULE")],
            left_out_rules=[self.rule(line, start) for line in component.all("EXRULE")],
        )
        entry.extra = list(self.dates(component, "RDATE", "an extra date"))
        if any(dated.length is None and dated.stamp.is_date != start.is_date for dated in entry.extra):
            self.fault(OF_ANOTHER_KIND[start.is_date])
        entry.left_out = [dated.stamp for dated in self.dates(component, "EXDATE", "a left-out date")]
        self.replaced(component, entry)
        return entry

    def start(self, component: Component, cancelled: bool) -> Stamp:
        """What is called off needs no start (RFC 5546 section 3.2.5): it has at most that of its repeat."""
        lines = list(component.all("DTSTART"))
        if cancelled and not lines:
            lines = [*component.all("RECURRENCE-ID"), *component.all("DTSTAMP")][:1]
        if not lines:
            raise Problem("it has no start")
        if len({(line.value, *sorted(line.parameters.items())) for line in lines}) > 1:
            raise Problem("it has two different starts")
        read = stamp(lines[0], self.zones, "the start")
        if read.fault:
            self.fault(read.fault)
        if read.stamp.floating:
            self.note(f"floating times, which have no zone, are read as {read.stamp.zone.name}")
        return read.stamp

    def length(self, component: Component, start: Stamp) -> Length:
        """By DTEND, else DURATION, else a day for a date and no time for a time (RFC 5545 section 3.6.1)."""
        end, given = component.first("DTEND"), component.first("DURATION")
        if end:
            length = self.length_to(end, start)
            if given and _sum(duration(given.value, "the length")) != _sum(length):
                self.fault("it has an end and a length that differ; the end is taken")
            return length
        if not given:
            return Length(days=1) if start.is_date else Length()
        length = duration(given.value, "the length")
        if start.is_date and (length.exact or not length.days):
            self.fault("it starts on a date and its length is not whole days; the whole day is taken")
            return Length(days=max(-(-_sum(length) // timedelta(days=1)), 1))
        return length

    def length_to(self, line: Line, start: Stamp) -> Length:
        read = stamp(line, self.zones, "the end")
        if read.fault:
            self.fault(read.fault)
        end = read.stamp
        if end.floating and not start.floating and not start.is_date:
            self.fault("its end names no zone; that of its start is taken")
            end = Stamp(end.wall, start.zone)
        if end.is_date != start.is_date:
            kinds = ("date", "time") if start.is_date else ("time", "date")
            raise Problem(f"its start is a {kinds[0]} and its end is a {kinds[1]}; both must be of one kind")
        if start.is_date:
            days = (end.wall - start.wall).days
            if days < 0:
                raise Problem("it ends before it starts")
            if days == 0:
                self.fault("it has the same date for start and end; that one day is taken")
            return Length(days=max(days, 1))
        return self.time_between(start, end)

    def time_between(self, start: Stamp, end: Stamp) -> Length:
        """Exact time. On a night when the clocks are put forward an end may fall onto its start."""
        exact = end.instant - start.instant
        if end.zone is start.zone and end.wall > start.wall:
            return Length(exact=max(exact, timedelta()))
        if exact < timedelta():
            raise Problem("it ends before it starts")
        if not exact:
            self.fault("it ends at the same time as it starts, and so takes no time")
        return Length(exact=exact)

    def rule(self, line: Line, start: Stamp) -> Rule:
        rule = parse_rule(line.value)
        if start.is_date and rule.every > Every.DAILY:
            raise Problem("it starts on a date and repeats within the day; it needs a time")
        if rule.count is not None and rule.until:
            self.note("where a repeat rule has both COUNT and UNTIL, whichever comes first ends it")
        return rule

    def dates(self, component: Component, name: str, what: str) -> Iterator[Dated]:
        """Each date of these lines that can be read; the others are told."""
        values = ((line, text) for line in component.all(name) for text in line.value.split(","))
        for number, (line, text) in enumerate(values):
            self.budget.spend()
            if number >= MOST_REPEATS:
                raise Problem(f"it lists more than {MOST_REPEATS:,} dates")
            try:
                if "/" in text:
                    yield Dated(*period(line, text, self.zones, what))
                elif text.strip():
                    yield Dated(stamp(line, self.zones, what, text).stamp)
            except Problem as problem:
                self.fault(str(problem))

    def replaced(self, component: Component, entry: Entry) -> None:
        line = component.first("RECURRENCE-ID")
        if line is None:
            return
        entry.replaces = stamp(line, self.zones, "the repeat that it replaces (RECURRENCE-ID)").stamp
        asked = line.upper("RANGE")
        entry.and_later = asked == "THISANDFUTURE"
        if asked and not entry.and_later:
            self.fault(f"its RANGE={asked[:20]} can't be read; it is taken for that one repeat only")
        if entry.rules:
            self.fault("it replaces one repeat and has a rule of its own; the rule is not followed")
            entry.rules = []

    def declined(self, component: Component) -> bool:
        """Whether the owner has answered no, or sent somebody else."""
        if not self.owner:
            return False
        self.budget.spend(5 * len(component.lines.get("ATTENDEE", ())))
        return any(
            line.upper("PARTSTAT") in ANSWERED_NO and self.owner in _addresses(line)
            for line in component.all("ATTENDEE")
        )

    def periods(self, component: Component) -> Iterator[Period]:
        """The busy times of a VFREEBUSY: all but FREE, unknown kinds too (RFC 5545 section 3.2.9)."""
        for line in component.all("FREEBUSY"):
            if line.upper("FBTYPE") == "FREE":
                continue
            for text in line.value.split(","):
                self.budget.spend()
                try:
                    start, length = period(line, text, self.zones, "a busy time")
                except Problem as problem:
                    self.fault(str(problem))
                else:
                    yield Period(start.instant, length.end(start.wall, start.zone))


def _whole_number(text: str) -> int:
    return int(text[:9]) if text.isascii() and text.isdecimal() else 0


def _sum(length: Length) -> timedelta:
    return timedelta(days=length.days) + length.exact


def _addresses(line: Line) -> set[str]:
    """The mail addresses that an ATTENDEE line names, in small letters."""
    named = {line.value, line.parameters.get("EMAIL", "")}
    return {unquote(address).strip().lower().removeprefix("mailto:") for address in named if address}
