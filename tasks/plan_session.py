"""Plan a session: text to sources to needs, a look at the house, a checked plan, claims, checklist."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from bookings.drafts import as_draft
from bookings.models import Session
from bookings.wishes import kept_now, wished_claims
from studio.claims import Conflict, Wanted, take
from studio.models import Claim, Person
from tasks.chains.giving import Given, inserts_for, keep_inserts, sheet_inserts
from tasks.cues.known import cues_for, keep_cues, sheet_cues
from tasks.make_checklist import make_checklist, sheet_of
from tasks.models import Plan, PlannedInput, UnfilledNeed
from tasks.planning import snapshot as records
from tasks.planning.chain_checker import chain_violations
from tasks.planning.changes import differences
from tasks.planning.checker import violations
from tasks.planning.costs import Costs
from tasks.planning.left import left_as_set_up
from tasks.planning.steady import steadied
from tasks.planning.swap import breaks, swapped
from tasks.recall import had
from tasks.reminders.rows import remind
from tasks.settings_of_inputs import settings_of
from tasks.snapshots import Looked, look
from tasks.telling import tell_changes
from tasks.wanted import stood, wanted_of, with_what_stood
from tasks.weighing import costs_here

TRIES = 3
MOST_INPUTS = 200  # no room here has half as many; a longer list must not hold a booking up

MOST_QUESTIONS = 9999

NOTHING = Looked(records.Snapshot((), (), (), {}, lines=0, recorder_inputs=0), {}, {}, {})
EMPTY = records.Plan((), (), frozenset(), records.SolverReport("nothing to plan", 0, 0, 0))
"""What a session without a list sees of the house, and its plan: most bookings begin so, and needn't look."""


class PlanRefused(Exception):
    """The checker found a plan that breaks a hard rule. It is never saved; this is a fault of ours."""


def plan_session(session: Session, by: Person | None = None) -> Plan | None:
    """Make the session's input list, claims, checklist and reminders anew; None for what is cancelled or no work.

    What is other than before is kept with the plan, and told to those concerned, but not to whoever did it.
    A unit that somebody takes between the look and the claim is planned around: it looks again.
    """
    if session.cancelled or not session.is_work:
        drop_plan(session)
        return None
    reading, wanted = wanted_of(session)
    agreed = had(session)
    before = stood(session, agreed)
    wanted = with_what_stood(wanted, before)
    costs = costs_here()
    for left in reversed(range(TRIES)):
        looked = look(session.room, session.whole, wanted[:MOST_INPUTS], session) if wanted else NOTHING
        made = EMPTY
        if wanted:
            made = checked_plan(looked.snapshot, costs)
            made = steadied(looked.snapshot, made, before, costs)
            made = left_as_set_up(looked.snapshot, made, before)
            made = with_pins(session, looked.snapshot, made)
            made = with_too_many(made, wanted[MOST_INPUTS:])
        try:
            with transaction.atomic():
                kept = keep_plan(session, looked, made, questions=len(reading.questions))
                tell_changes(session, kept, differences(agreed, made) if agreed else [], by)
                return kept
        except Conflict:
            if not left:
                raise
    return None


def keep_while_it_runs(session: Session) -> bool:
    """Give the gear of a session that runs on its new hours. False: it has to be planned anew."""
    if not Plan.objects.filter(session=session, stale=False).exists():
        return False
    if not gear_comes_along(session):
        return False
    remind(session)
    return True


def gear_comes_along(session: Session) -> bool:
    """Give the session's gear its new hours. False: not all of it is free then, and nothing was changed."""
    firm = session.status == Session.Status.CONFIRMED
    spans = {want.resource_id: want.span for want in wished_claims(as_draft(session))}
    wanted = [
        Wanted(
            c.resource_id,
            spans.get(c.resource_id, session.whole),
            Claim.Purpose.GEAR,
            session.title,
            firm,
            c.quantity,
        )
        for c in session.claims.filter(purpose=Claim.Purpose.GEAR)
    ]
    try:
        take(session, wanted, instead=[Claim.Purpose.GEAR])
    except Conflict:
        return False
    return True


def checked_plan(snapshot: records.Snapshot, costs: Costs | None = None) -> records.Plan:
    """The planner's plan, after a checker that shares no code with it has found nothing wrong."""
    from tasks.planning.plan import plan  # the solver takes a second to load: only who plans waits for it

    made = plan(snapshot, costs=costs)
    if broken := violations(snapshot, made):
        raise PlanRefused("; ".join(broken))
    return made


def with_pins(session: Session, snapshot: records.Snapshot, made: records.Plan) -> records.Plan:
    """The plan with what was chosen by hand, where no rule speaks against it; each input says which it was."""
    for pin in session.pins.select_related("unit", "preamp_channel__unit"):
        row = next((row for row in made.inputs if row.label == pin.label), None)
        if row is None:
            continue
        channel = pin.preamp_channel
        spot = (channel.unit.tag, channel.number) if channel else None
        chosen = pin.unit.tag if pin.unit else f"{channel}"
        other = swapped(snapshot, made, row.number, unit=pin.unit.tag if pin.unit else "", spot=spot)
        if broken := breaks(snapshot, made, other):
            made = because(made, row.number, f"{chosen} was chosen by hand, but {broken[0]}")
        else:
            made = because(other, row.number, f"{chosen} was chosen by hand")
    return made


def because(made: records.Plan, number: int, reason: str) -> records.Plan:
    """The plan with one more reason, first of all, on this input."""
    rows = (replace(row, why=(reason, *row.why)) if row.number == number else row for row in made.inputs)
    return replace(made, inputs=tuple(rows))


def with_too_many(made: records.Plan, left_over: Sequence[records.Need]) -> records.Plan:
    """The plan with what stands beyond the most inputs as open needs: nothing of a list is dropped."""
    reason = f"More than {MOST_INPUTS} inputs are not planned at once."
    help_ = ("Split the list over several sessions.",)
    more = [records.Unfilled(n.number, n.label, n.source, reason, help_) for n in left_over]
    return replace(made, unfilled=(*made.unfilled, *more))


def drop_plan(session: Session) -> None:
    """A cancelled session needs no gear, no tasks that aren't done, no reminders; upkeep what it wants by tag."""
    Plan.objects.filter(session=session).delete()
    session.tasks.filter(done_at__isnull=True).delete()
    kept = [] if session.cancelled else kept_now(session)
    take(session, kept, instead=[Claim.Purpose.GEAR])
    remind(session)


def news(session: Session, made: records.Plan) -> tuple[list[str], datetime | None]:
    """What is other than in the plan that stands, and since when; where nothing is, what that one said itself."""
    old, agreed = Plan.objects.filter(session=session).first(), had(session)
    if old is None:
        return [], None
    changes = differences(agreed, made) if agreed else []
    return (changes, old.made_at) if changes else (old.changes, old.changed_since)


def keep_plan(session: Session, looked: Looked, made: records.Plan, questions: int) -> Plan:
    changes, since = news(session, made)
    given, cues = checked_inserts(session, looked, made), cues_for(session, made)
    with_plan = given.resource_ids | cues.resource_ids
    take(session, _claims(session, looked, made, with_plan), instead=[Claim.Purpose.GEAR])
    Plan.objects.filter(session=session).delete()
    plan = Plan.objects.create(
        session=session,
        made_at=timezone.now(),
        list_text=session.instrument_list,
        status=made.solver.status,
        objective=made.solver.objective,
        bound=made.solver.bound,
        seconds=made.solver.seconds,
        questions=min(questions, MOST_QUESTIONS),
        changes=changes,
        changed_since=since,
    )
    inputs, unfilled = rows_of(plan, looked, made)
    PlannedInput.objects.bulk_create(inputs)
    UnfilledNeed.objects.bulk_create(unfilled)
    keep_inserts(given, inputs)
    keep_cues(plan, cues)
    sheet = sheet_of(session.room.name, inputs, unfilled, sheet_inserts(given))
    make_checklist(session, replace(sheet, cues=sheet_cues(cues)), inputs)
    remind(session)
    return plan


def checked_inserts(session: Session, looked: Looked, made: records.Plan) -> Given:
    """What is inserted on each input, after a checker that shares no code with it has found nothing wrong."""
    given = inserts_for(session, looked.snapshot.needs, made)
    if broken := chain_violations(given.house, given.chains):
        raise PlanRefused("; ".join(broken))
    return given


def rows_of(plan: Plan, looked: Looked, made: records.Plan) -> tuple[list[PlannedInput], list[UnfilledNeed]]:
    """The plan as rows that are not saved yet."""
    unfilled = [
        UnfilledNeed(
            plan=plan,
            number=each.number,
            label=each.label,
            source=each.source,
            reason=each.reason,
            help=list(each.help),
        )
        for each in made.unfilled
    ]
    return [_row(plan, looked, each) for each in made.inputs], unfilled


def _row(plan: Plan, looked: Looked, each: records.PlannedInput) -> PlannedInput:
    channel = None
    if each.preamp is not None and each.channel is not None:
        channel = looked.channels[each.preamp, each.channel]
    unit = looked.units[each.unit] if each.unit else None
    settings = settings_of(each, unit, looked.units[each.preamp] if each.preamp else None)
    return PlannedInput(
        gain_db=settings.gain.gain_db if settings.gain else None,
        gain_said=list(settings.gain.arithmetic) if settings.gain else [],
        high_pass_hz=settings.high_pass_hz,
        plan=plan,
        number=each.number,
        label=each.label,
        source=each.source,
        pickup=each.pickup.value,
        unit=unit,
        unit_input=each.unit_input,
        preamp_channel=channel,
        phantom=each.phantom,
        pad=each.pad,
        stand=each.stand or "",
        cable=each.cable or "",
        patched=each.patched,
        line=each.line,
        recorder_input=each.recorder_input,
        why=list(each.why),
    )


def _claims(session: Session, looked: Looked, made: records.Plan, more: set[int]) -> list[Wanted]:
    """Each unit with its channels, each preamp and the channels used of it, what is inserted and heard, and the
    stands and cables by count; and what the session wants by tag, planned or not."""
    units = {each.unit for each in made.inputs if each.unit}
    racks = {each.preamp for each in made.inputs if each.preamp}
    ids = {looked.units[tag].resource_id for tag in units | racks}
    ids |= {channel.resource_id for (tag, _), channel in looked.channels.items() if tag in units}
    ids |= {
        looked.channels[each.preamp, each.channel].resource_id
        for each in made.inputs
        if each.preamp is not None and each.channel is not None
    }
    names = (name for each in made.inputs for name in (each.stand, each.cable) if name in looked.stock)
    counted = {looked.stock[name or ""].resource_id: count for name, count in Counter(names).items()}
    kept = {want.resource_id: want.span for want in kept_now(session)}
    ids |= set(kept) | more
    firm = session.status == Session.Status.CONFIRMED
    return [
        Wanted(pk, kept.get(pk, session.whole), Claim.Purpose.GEAR, session.title, firm, quantity)
        for pk, quantity in sorted({**dict.fromkeys(ids, 1), **counted}.items())
    ]
