"""The bench's queue: open faults, what is needed soonest first, each with the reason for its place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count
from django.utils import timezone

from studio.clock import say
from studio.gear.queries import claims_on
from studio.gear.state import MARKS
from studio.models import Claim, Fault, GearUnit
from studio.spans import Span


@dataclass(frozen=True, slots=True)
class Job:
    """One open fault. needed: the next booking of the thing itself. spare: others of its model that work."""

    fault: Fault
    needed: Claim | None
    spare: int
    now: datetime

    @property
    def mark(self) -> str:
        return MARKS[Fault.Severity(self.fault.severity)]

    @property
    def overdue(self) -> bool:
        return self.fault.expected_back is not None and self.fault.expected_back <= self.now

    @property
    def order(self) -> tuple[bool, datetime, bool, datetime]:
        needed = self.needed.starts if self.needed else self.now
        return (self.needed is None, needed, self.spare > 0, self.fault.since)

    @property
    def reason(self) -> str:
        """Why it stands where it stands."""
        return f"{self._needed()}; {self._spare()}; {age(self.now - self.fault.since)}"

    def _needed(self) -> str:
        if self.needed is None:
            return "nothing is booked on it"
        start = max(self.needed.starts, self.now)
        when = "now" if start == self.now else say(start, self.fault.unit.site.tz)
        return f"next needed {when}, “{self.needed.reason}”"

    def _spare(self) -> str:
        if not self.spare:
            return "no other of its model works"
        return "1 other of its model works" if self.spare == 1 else f"{self.spare} others of its model work"


def age(length: timedelta) -> str:
    days = length.days
    if days < 1:
        return "reported less than a day ago"
    return f"known for {days} day{'s' if days > 1 else ''}"


def queue() -> list[Job]:
    """Every open fault, in a constant number of queries."""
    now = timezone.now()
    faults = list(
        Fault.objects.open()
        .select_related("unit__gear_model", "unit__site", "unit__home_room", "channel__unit", "reported_by")
        .prefetch_related("unit__channels")
        .filter(unit__retired=False)
    )
    wanted = set().union(*(_resources(fault) for fault in faults))
    claims = claims_on(wanted, Span(now, None), viewer=None)
    spare = _spare_units(faults)
    jobs = [
        Job(fault, _needed(fault, claims), spare.get(fault.unit.gear_model_id, 0), now) for fault in faults
    ]
    return sorted(jobs, key=lambda job: job.order)


def _resources(fault: Fault) -> set[int]:
    if fault.channel is not None:
        return {fault.channel.resource_id}
    return {fault.unit.resource_id, *(channel.resource_id for channel in fault.unit.channels.all())}


def _needed(fault: Fault, claims: dict[int, list[Claim]]) -> Claim | None:
    uses = [
        claim
        for resource in _resources(fault)
        for claim in claims.get(resource, [])
        if claim.purpose != Claim.Purpose.REPAIR
    ]
    return min(uses, key=lambda claim: claim.starts, default=None)


def _spare_units(faults: Iterable[Fault]) -> dict[int, int]:
    """How many units of each model have no open fault."""
    sound = GearUnit.objects.filter(
        gear_model__in={fault.unit.gear_model_id for fault in faults}, retired=False
    )
    sound = sound.exclude(pk__in=Fault.objects.open().values("unit"))
    return dict(sound.order_by().values_list("gear_model").annotate(n=Count("pk")))
