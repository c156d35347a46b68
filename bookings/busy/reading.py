"""Bytes of a calendar to busy time in UTC, with a sentence for all that was wrong or had to be interpreted.

No Django, no network, no clock but the guard against files that take too long. The choices that the standard
leaves open: a repeat on a time that the clocks skip is read like a written one (section 3.8.5.3, not 3.3.10);
a series in UTC repeats in UTC whatever X-WR-TIMEZONE says; a floating time is on X-WR-TIMEZONE's clock if the
file has one, else on the reader's; a whole day is the reader's day.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import StrEnum
from functools import partial
from zoneinfo import ZoneInfo

from bookings.busy.entries import Entry, Reader
from bookings.busy.limits import (
    MOST_BYTES,
    MOST_INTERVALS,
    SHOWN_REPORTS,
    Budget,
    Problem,
    Unreadable,
)
from bookings.busy.lines import Component, File, components
from bookings.busy.series import Interval, Series, versions
from bookings.busy.zones import Zones

ANSWERS = {"REPLY", "REFRESH", "COUNTER", "DECLINECOUNTER"}


class Outcome(StrEnum):
    """BUSY: all was taken. PARTIAL: what could be taken was. ERROR: nothing was."""

    BUSY = "busy"
    PARTIAL = "partial"
    ERROR = "error"


@dataclass(frozen=True, slots=True)
class Reading:
    """busy: one interval for each repeat, in order, those that overlap the window. reports: sentences."""

    outcome: Outcome
    busy: tuple[Interval, ...] = ()
    reports: tuple[str, ...] = ()


def read(data: bytes, zone: ZoneInfo, start: datetime, end: datetime, owner: str = "") -> Reading:
    """What somebody's calendar takes of [start, end), both aware. zone: the clock of whoever it belongs to.

    owner: their mail address; entries that they declined are free. Never raises for any bytes.
    """
    window = Interval(start.astimezone(UTC), end.astimezone(UTC))
    try:
        if len(data) > MOST_BYTES:
            raise Unreadable(
                f"The calendar is larger than {MOST_BYTES // 2**20} MB. Nothing was taken; export less of it."
            )
        budget = Budget()
        work = Work(zone, window, owner.strip().lower().removeprefix("mailto:"), budget)
        work.read(components(data, budget))
    except Unreadable as problem:
        return Reading(Outcome.ERROR, reports=(str(problem),))
    return work.reading()


@dataclass(slots=True)
class Work:
    """What has been found so far. `taken` counts the entries that were understood, busy or not."""

    zone: ZoneInfo
    window: Interval
    owner: str
    budget: Budget
    found: list[Interval] = field(default_factory=list)
    taken: int = 0
    faults: dict[str, None] = field(default_factory=dict)
    notes: dict[str, None] = field(default_factory=dict)

    def read(self, file: File) -> None:
        for component in file.unclosed:
            self.fault(component, "it has no END; what stands before the next entry is taken")
        for component in file.unbegun:
            self.fault(component, "it has no BEGIN; what stands before its END is taken")
        for component in file.outside:
            self.fault(component, "it stands after the calendar's END; it is taken all the same")
        if file.cut_short:
            self.faults["The file ends in the middle: it is cut short, and later entries are missing."] = None
        entries = [entry for calendar in file.calendars for entry in self.calendar(calendar)]
        kept = versions(entries, lambda entry: self.fault(entry.component, SAME_UID))
        for series in self.series(kept):
            self.within_limits(series)

    def calendar(self, calendar: Component) -> Iterator[Entry]:
        self.budget.spend()
        method = calendar.token("METHOD")
        if method in ANSWERS and not any(part.kind == "VFREEBUSY" for part in calendar.parts):
            self.faults[f"This is an answer to an invitation (METHOD:{method}), not a calendar."] = None
            return
        zones = Zones(self.zone, calendar, self.window.end, self.budget, self.note)
        for component in calendar.parts:
            self.budget.spend()
            reader = Reader(
                zones,
                self.budget,
                self.owner,
                method == "CANCEL",
                fault=partial(self.fault, component),
                note=self.note,
            )
            yield from self.entry(component, reader)

    def entry(self, component: Component, reader: Reader) -> Iterator[Entry]:
        if component.kind == "VAVAILABILITY":
            self.note("working hours (VAVAILABILITY) are not read")
        if not component.closed or component.kind not in ("VEVENT", "VFREEBUSY"):
            return
        try:
            if component.kind == "VEVENT":
                yield reader.event(component)
            else:
                self.take(Interval(p.start, p.end) for p in reader.periods(component))
                self.taken += 1
        except Problem as problem:
            self.fault(component, str(problem))
        except OverflowError:
            self.fault(component, OUTSIDE)

    def series(self, entries: list[Entry]) -> Iterator[Series]:
        """Each series with what replaces its repeats; a replacement also stands for itself."""
        changes: dict[str, list[Entry]] = {}
        for entry in entries:
            if entry.replaces and entry.uid:
                changes.setdefault(entry.uid, []).append(entry)
        called_off: dict[str, int] = {}
        for entry in entries:
            if not entry.replaces:
                if entry.cancelled and entry.uid:
                    called_off[entry.uid] = entry.version[0]
                yield Series(entry, changes.get(entry.uid, []) if entry.uid else [], self.window, self.budget)
        for entry in entries:
            if entry.replaces and entry.version[0] > called_off.get(entry.uid, -1):
                yield Series(entry, [], self.window, self.budget)

    def within_limits(self, series: Series) -> None:
        try:
            self.take(series.intervals())
            self.taken += 1
        except Problem as problem:
            self.fault(series.main.component, str(problem))
        except OverflowError:
            self.fault(series.main.component, OUTSIDE)

    def take(self, intervals: Iterator[Interval]) -> None:
        """Those that overlap the window and take some time."""
        for one in intervals:
            if one.start < one.end and one.start < self.window.end and one.end > self.window.start:
                self.found.append(one)
        if len(self.found) > MOST_INTERVALS:
            raise Unreadable(
                f"The calendar has more than {MOST_INTERVALS:,} busy times in the time that is read. "
                "Nothing was taken."
            )

    def fault(self, component: Component, words: str) -> None:
        self.faults[f"{label(component)}: {words}."] = None

    def note(self, words: str) -> None:
        self.notes[f"{words[:1].upper()}{words[1:]}."] = None

    def reading(self) -> Reading:
        outcome = Outcome.BUSY
        if self.faults:
            outcome = Outcome.PARTIAL if self.taken else Outcome.ERROR
        reports = [*self.faults, *self.notes]
        if len(reports) > SHOWN_REPORTS:
            reports[SHOWN_REPORTS:] = [f"And {len(reports) - SHOWN_REPORTS:,} more of these."]
        busy = () if outcome == Outcome.ERROR else tuple(sorted(self.found))
        return Reading(outcome, busy, tuple(reports))


SAME_UID = "the same UID twice in one version with different times; all of them are taken as busy"
OUTSIDE = "it lies outside the years that can be read"


def label(component: Component) -> str:
    """How a person finds the entry: its title and its UID, or its place in the file."""
    title, uid = _plain(component.text("SUMMARY")), _plain(component.text("UID"))
    name = uid or f"entry {component.number}, without a UID"
    return f"“{title}” ({name})" if title else name[:1].upper() + name[1:] if not uid else name


def _plain(text: str) -> str:
    """One line of printable letters, not too long."""
    line = "".join(letter if letter.isprintable() else " " for letter in text[:200])
    return line if len(line) <= 80 else f"{line[:79]}…"
