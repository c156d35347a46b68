"""Faults of the past, as a repair log tells them: over and done with, so that nothing is claimed for them."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.access import Act, require
from studio.faults import USUAL_SEVERITY
from studio.models import Channel, Fault, FaultEvent, GearUnit, Person


def keep_old_fault(
    by: Person,
    unit: GearUnit,
    channel: Channel | None,
    effect: str,
    words: str,
    since: datetime,
    closed_at: datetime,
    outcome: str,
) -> Fault:
    """A fault that is closed already, with the two events that tell how it stood at any time between.

    Bookings of today keep the unit: it works. closed_at before since is a slip of the pen, taken as the same time.
    Raises PermissionDenied.
    """
    require(by, Act.MEND)
    closed_at, severity = max(since, closed_at), USUAL_SEVERITY[Fault.Effect(effect)]
    with transaction.atomic():
        fault = Fault.objects.create(
            unit=unit,
            channel=channel,
            effect=effect,
            severity=severity,
            step=Fault.Step.MENDED,
            words=words,
            since=since,
            reported_at=since,
            reported_by=by,
            closed_at=closed_at,
            outcome=outcome,
        )
        for kind, at, step in (
            (FaultEvent.Kind.REPORTED, since, Fault.Step.REPORTED),
            (FaultEvent.Kind.CLOSED, closed_at, Fault.Step.MENDED),
        ):
            closed = kind is FaultEvent.Kind.CLOSED
            note = outcome if closed else ""
            FaultEvent.objects.create(
                fault=fault, kind=kind, at=at, by=by, severity=severity, step=step, closed=closed, note=note
            )
    return fault
