"""The bench's queue: open faults, what to mend first at the top, each with the reason for its place."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils import timezone

from studio.bench.stand_ins import MOST, stand_ins
from studio.bench.wants import Want, wants_of
from studio.clock import say
from studio.gear.state import MARKS, effect_in_words
from studio.models import Fault
from studio.spans import Span
from studio.whereabouts.where import places_of

USUAL_NEED = timedelta(hours=4)
"""For how long something has to be free to stand in, where nothing is booked. Common practice, no single source."""
AWAY = {Fault.Step.AWAY, Fault.Step.PARTS}


@dataclass(frozen=True, slots=True)
class Job:
    """One open fault. wants: the bookings that want the thing itself. spare: how many others could stand in.
    place: where it is now."""

    fault: Fault
    wants: list[Want]
    spare: int
    place: str
    now: datetime

    @property
    def mark(self) -> str:
        return MARKS[Fault.Severity(self.fault.severity)]

    @property
    def words(self) -> str:
        return effect_in_words(self.fault)

    @property
    def more(self) -> str:
        """The reporter's words, where they aren't said already."""
        return "" if self.words == f"“{self.fault.words}”" else self.fault.words

    @property
    def overdue(self) -> bool:
        return self.fault.expected_back is not None and self.fault.expected_back <= self.now

    @property
    def needed_at(self) -> datetime | None:
        return max(self.wants[0].span.start, self.now) if self.wants else None

    @property
    def order(self) -> tuple[date, bool, int, datetime, datetime, int]:
        """The day it is next needed on; whether anything can stand in; how many want it; the hour; its age."""
        needed, fault = self.needed_at, self.fault
        day = needed.astimezone(fault.unit.site.tz).date() if needed else date.max
        return (day, self.spare > 0, -len(self.wants), needed or self.now, fault.since, fault.pk)

    @property
    def reason(self) -> str:
        """Why it stands where it stands."""
        return "; ".join(filter(None, [self._needed(), self._spare(), self._wanted(), self._age()]))

    def _needed(self) -> str:
        if self.needed_at is None:
            return "nothing is booked on it"
        when = "now" if self.needed_at == self.now else say(self.needed_at, self.fault.unit.site.tz)
        return f"next needed {when}, “{self.wants[0].title}”"

    def _spare(self) -> str:
        when = "then" if self.wants else "now"
        if not self.spare:
            return f"nothing like it is free {when}"
        count = f"{self.spare} or more" if self.spare == MOST else str(self.spare)
        return f"{count} like it {'is' if self.spare == 1 else 'are'} free {when}"

    def _wanted(self) -> str:
        if not self.wants:
            return ""
        return "wanted by 1 session" if len(self.wants) == 1 else f"wanted by {len(self.wants)} sessions"

    def _age(self) -> str:
        days = (self.now - self.fault.since).days
        if days < 1:
            return "reported less than a day ago"
        return f"known for {days} day{'s' if days > 1 else ''}"


def queue() -> list[Job]:
    """Every open fault, in a constant number of queries."""
    faults = Fault.objects.open().filter(unit__retired=False)
    return jobs_of(list(faults.select_related(*OF_JOB).prefetch_related("unit__channels")))


OF_JOB = (
    "unit__gear_model__microphone",
    "unit__site",
    "unit__home_room",
    "channel__unit",
    "reported_by",
)


def jobs_of(faults: list[Fault]) -> list[Job]:
    now = timezone.now()
    wants = wants_of(faults)
    spare = stand_ins({fault: _need(wants[fault.pk], now) for fault in faults})
    places = places_of(fault.unit for fault in faults)
    jobs = [Job(f, wants[f.pk], spare[f.pk], places[f.unit_id], now) for f in faults]
    return sorted(jobs, key=lambda job: job.order)


def _need(wants: list[Want], now: datetime) -> Span:
    """When something would have to stand in: as long as the first booking that wants it."""
    if not wants:
        return Span(now, now + USUAL_NEED)
    first = wants[0].span
    return Span(max(first.start, now), first.end)
