"""A session's plan as it stands, as the planner's records, with what the session may use now."""

from __future__ import annotations

from bookings.models import Session
from tasks.models import Plan, PlannedInput
from tasks.planning import snapshot as records
from tasks.planning.swap import settled
from tasks.snapshots import Looked
from tasks.solving import look_for, wants_of


def standing_plan(session: Session) -> tuple[Looked, records.Plan]:
    """What the session may use, and its plan as it stands."""
    looked = look_for(session, wants_of(session))
    row = Plan.objects.get(session=session)
    inputs = row.inputs.select_related("unit", "preamp_channel__unit")
    solver = records.SolverReport("best found", row.objective, row.bound, row.seconds)
    unfilled = tuple(
        records.Unfilled(each.number, each.label, each.source, each.reason, tuple(each.help))
        for each in row.unfilled.all()
    )
    plan = records.Plan(tuple(map(_record, inputs)), unfilled, frozenset(), solver)
    return looked, settled(looked.snapshot, plan)


def _record(each: PlannedInput) -> records.PlannedInput:
    channel = each.preamp_channel
    return records.PlannedInput(
        number=each.number,
        label=each.label,
        source=each.source,
        pickup=records.Pickup(each.pickup),
        unit=each.unit.tag if each.unit else None,
        unit_input=each.unit_input,
        preamp=channel.unit.tag if channel else None,
        channel=channel.number if channel else None,
        phantom=each.phantom,
        pad=each.pad,
        stand=each.stand or None,
        cable=each.cable or None,
        patched=each.patched,
        line=each.line,
        recorder_input=each.recorder_input,
        why=tuple(each.why),
    )
