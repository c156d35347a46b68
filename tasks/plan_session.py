"""Plan a session: text to sources to needs, a look at the house, a checked plan, claims, checklist."""

from __future__ import annotations

from collections import Counter
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
from tasks.recall import had
from tasks.reminders.rows import remind
from tasks.settings_of_inputs import settings_of
from tasks.snapshots import Looked
from tasks.solving import PlanRefused, look_for, made_from, same_hours, wants_of
from tasks.telling import tell_changes

TRIES = 3
MOST_QUESTIONS = 9999


def plan_session(session: Session, by: Person | None = None) -> Plan | None:
    """Make the session's input list, claims, checklist and reminders anew; None for what is cancelled or no work.

    What is other than before is kept with the plan, and told to those concerned, but not to whoever did it.
    A unit that somebody takes between the look and the claim is planned around: it looks again.
    """
    if session.cancelled or not session.is_work:
        drop_plan(session)
        return None
    wants = wants_of(session)
    for left in reversed(range(TRIES)):
        looked = look_for(session, wants)
        made = made_from(session, looked, wants)
        try:
            with transaction.atomic():
                kept = keep_plan(session, looked, made, questions=wants.questions)
                tell_changes(session, kept, wants.differences(made), by)
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
        weighed=not competes(session, made),
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


def competes(session: Session, made: records.Plan) -> bool:
    """Whether others want gear in the same hours, so that the worker has to weigh them together."""
    firm = session.status == Session.Status.CONFIRMED
    return firm and bool(made.inputs or made.unfilled) and same_hours(session).exists()


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
