"""The last session of the same job: what its inputs had, what they have now, and what befell those units since."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from bookings.models import Session
from studio.clock import say
from studio.models import FaultEvent, GearUnit, ServiceDone, Stay
from tasks.models import PlannedInput
from tasks.planning.steady import Had

Befell = Mapping[int, list[tuple[datetime, str]]]
"""What befell units, by their keys: when, and what."""
LEFT_OUT = {FaultEvent.Kind.NOTE, FaultEvent.Kind.SEEN_AGAIN}


@dataclass(frozen=True, slots=True)
class Recalled:
    """One input that both sessions have. warnings: why its settings may not be what they were."""

    label: str
    then: PlannedInput
    now: PlannedInput
    warnings: list[str]

    @property
    def same(self) -> bool:
        return (self.then.unit_id, self.then.preamp_channel_id) == (
            self.now.unit_id,
            self.now.preamp_channel_id,
        )


@dataclass(frozen=True, slots=True)
class Recall:
    session: Session
    inputs: list[Recalled]


def last_of_job(session: Session) -> Session | None:
    """The last one of its job that was over before this one begins, and had inputs."""
    earlier = Session.objects.standing().filter(job=session.job_id, end__lte=session.setup_at)
    with_inputs = earlier.filter(plan__inputs__isnull=False).exclude(pk=session.pk)
    return with_inputs.order_by("-end", "-pk").first()


def rows_of(session: Session) -> list[PlannedInput]:
    return list(
        PlannedInput.objects.filter(plan__session=session).select_related(
            "unit__gear_model", "unit__site", "preamp_channel__unit__site"
        )
    )


def had(session: Session) -> dict[str, Had]:
    """What each input of a session has, by its label."""
    found = {}
    for row in rows_of(session):
        channel = row.preamp_channel
        spot = (channel.unit.tag, channel.number) if channel else None
        found[row.label] = Had(row.unit.tag if row.unit else "", spot, row.line, row.recorder_input)
    return found


def recall(session: Session) -> Recall | None:
    """None for the first session of a job. A constant number of queries."""
    last = last_of_job(session)
    if last is None:
        return None
    now = {row.label: row for row in rows_of(session)}
    then = [row for row in rows_of(last) if row.label in now]
    befell = _since(last.end, then)
    both = [(row, now[row.label]) for row in then]
    return Recall(last, [Recalled(r.label, r, n, list(_warnings(r, n, befell))) for r, n in both])


def _units(row: PlannedInput) -> list[GearUnit]:
    rack = row.preamp_channel.unit if row.preamp_channel else None
    return [unit for unit in (row.unit, rack) if unit]


def _since(when: datetime, rows: list[PlannedInput]) -> Befell:
    return befell_since(when, {unit.pk for row in rows for unit in _units(row)})


def befell_since(when: datetime, units: Collection[int]) -> Befell:
    """What befell each unit since then: faults and their steps, services, and leaving the house. Three queries."""
    found: dict[int, list[tuple[datetime, str]]] = {}
    events = FaultEvent.objects.filter(fault__unit__in=units, at__gt=when).exclude(kind__in=LEFT_OUT)
    for event in events.select_related("fault__channel__unit"):
        where = f"channel {event.fault.channel.number}, " if event.fault.channel else ""
        what = event.get_step_display() if event.kind == FaultEvent.Kind.STEP else event.get_kind_display()
        found.setdefault(event.fault.unit_id, []).append(
            (event.at, f"{where}{event.fault.get_effect_display()}: {what}")
        )
    for done in ServiceDone.objects.filter(unit__in=units, at__gt=when).select_related("plan"):
        if done.unit_id is not None:
            found.setdefault(done.unit_id, []).append((done.at, f"serviced: {done.plan.what}"))
    out = Stay.objects.filter(unit__in=units, began_at__gt=when).exclude(kind=Stay.Kind.ROOM)
    for stay in out:
        found.setdefault(stay.unit_id, []).append((stay.began_at, f"{stay.get_kind_display()} since"))
    return found


def _warnings(then: PlannedInput, now: PlannedInput, befell: Befell) -> Iterator[str]:
    if then.unit_id != now.unit_id:
        yield f"{now.unit or 'no unit'} instead of {then.unit or 'none'}"
    if then.preamp_channel_id != now.preamp_channel_id:
        yield f"{now.preamp_channel or 'no preamp'} instead of {then.preamp_channel or 'none'}"
    for unit in _units(then):
        for at, what in sorted(befell.get(unit.pk, [])):
            yield f"{unit}: {what}, {say(at, unit.site.tz)}"
