"""When a unit is out, as entries of its calendar."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from uuid import NAMESPACE_URL, uuid5

from bookings.calendar.entries import session_uid
from bookings.calendar.write import Entry, Status
from bookings.models import Feed
from studio.models import Fault, GearUnit
from studio.spans import Span


def repair_entries(unit: GearUnit, window: Span, detail: str, now: datetime) -> Iterator[Entry]:
    """Each fault that puts the unit or a channel out of use; one with no known end lasts as long as the feed."""
    faults = unit.faults.filter(severity=Fault.Severity.OUT, since__lt=window.end)
    busy = detail == Feed.Detail.BUSY
    for fault in faults.select_related("channel", "unit").order_by("pk"):
        ahead = fault.expected_back if fault.expected_back and fault.expected_back > now else None
        known = fault.closed_at or ahead
        ends = known or window.end
        if ends is None or ends <= max(fault.since, window.start):
            continue
        told = str(fault) if detail == Feed.Detail.FULL else f"{unit} is out"
        yield Entry(
            uid=session_uid(
                uuid5(NAMESPACE_URL, f"deskhand fault {fault.pk} {fault.reported_at.isoformat()}")
            ),
            start=fault.since,
            end=ends,
            zone=unit.site.zone,
            summary="Taken" if busy else f"Out: {told}",
            made_at=fault.reported_at,
            changed_at=fault.closed_at or fault.reported_at,
            sequence=0,
            status=Status.CONFIRMED,
            description="" if known or busy else "When it is back isn't known yet.",
            category="" if busy else "Repair",
            private=not busy,
        )
