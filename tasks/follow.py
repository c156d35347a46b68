"""What changes mean for plans: a changed session is planned anew, a fault re-plans what it hits."""

from __future__ import annotations

import logging
from typing import Any

from django.contrib.contenttypes.models import ContentType
from django.db import transaction
from django.db.models import Q
from django.dispatch import receiver
from django.utils import timezone

from bookings.models import Session
from bookings.signals import session_changed
from bookings.wishes import kept_now
from studio.claims import take
from studio.models import Claim, Fault, GearModel, GearUnit, Room, Stock
from studio.signals import gear_state_changed, house_changed
from tasks.models import Plan, PlannedInsert
from tasks.plan_session import gear_comes_along, keep_while_it_runs, plan_session
from tasks.reminders.rows import remind

log = logging.getLogger(__name__)


@receiver(session_changed, dispatch_uid="tasks.plan_changed_session")
def plan_changed_session(sender: type[Session], session: Session, change: str, **kwargs: Any) -> None:
    """In the same transaction as the change, so that claims, plan, tasks and reminders move together.

    A session that runs on keeps its plan where it can: what stands in the room stays there.
    """
    if session.end <= timezone.now() and not session.cancelled:
        return
    if change == "one of many":
        plan_later(session)
    elif change != "ran on" or not keep_while_it_runs(session):
        _plan(session)


@receiver(gear_state_changed, dispatch_uid="tasks.plan_around_gear")
def plan_around_gear(
    sender: Any, unit: GearUnit, fault: Fault, given_up: list[tuple[int, int]], **kwargs: Any
) -> None:
    """Plan anew what had to give the unit up, what relies on it, and, once it is mended, what is short."""
    session_type = ContentType.objects.get_for_model(Session).pk
    hit = {pk for kind, pk in given_up if kind == session_type}
    ahead = Session.objects.standing().filter(end__gt=timezone.now(), room__site=unit.site_id)
    relies = Q(plan__inputs__unit=unit) | Q(plan__inputs__preamp_channel__unit=unit) | Q(wanted_units=unit)
    relies |= Q(plan__inputs__inserts__unit=unit)
    short = Q(pk__in=[])
    if fault.closed_at:
        unmet = PlannedInsert.objects.filter(unit__isnull=True)
        short = Q(plan__unfilled__isnull=False) | Q(plan__inputs__inserts__in=unmet)
    hit |= set(ahead.filter(relies | short).values_list("pk", flat=True))
    replan_soon(sorted(hit))


@receiver(house_changed, dispatch_uid="tasks.plan_around_house")
def plan_around_house(sender: Any, thing: Any, **kwargs: Any) -> None:
    """Whoever was planned with what has just been changed is planned anew: phantom may no longer be safe."""
    match thing:
        case GearUnit():
            relies = _relies_on(Q(pk=thing.pk))
        case GearModel():
            relies = _relies_on(Q(gear_model=thing))
        case Room():
            relies = Q(room=thing)
        case Stock():
            relies = Q(room__site=thing.site_id, plan__inputs__stand=thing.name)
        case _:
            return
    ahead = Session.objects.standing().filter(relies, end__gt=timezone.now())
    replan_soon(sorted(set(ahead.values_list("pk", flat=True))))


def _relies_on(units: Q) -> Q:
    found = GearUnit.objects.filter(units)
    relies = Q(plan__inputs__unit__in=found) | Q(plan__inputs__preamp_channel__unit__in=found)
    return relies | Q(plan__inputs__inserts__unit__in=found)


def plan_later(session: Session) -> None:
    """The worker plans it: one of many booked or changed at once, which must not wait for each other's plans.

    Until then its gear comes along where all of it is free; else it keeps only what it wants by tag.
    """
    if not gear_comes_along(session):
        take(session, kept_now(session), instead=[Claim.Purpose.GEAR])
    remind(session)
    Plan.objects.get_or_create(session=session, defaults=_nothing_yet())
    replan_soon([session.pk])


def replan_soon(session_ids: list[int]) -> None:
    """The worker plans them after this transaction; the next tick makes up for a lost wake-up."""
    if Plan.objects.filter(session_id__in=session_ids).update(stale=True):
        transaction.on_commit(wake_worker, robust=True)


def wake_worker() -> None:
    from tasks.wakeups import replan  # which imports this module

    replan.delay()


def replan_stale() -> int:
    """Plan anew what is stale and not over yet, each in a transaction of its own; counts what was planned."""
    stale = Session.objects.standing().filter(plan__stale=True, end__gt=timezone.now())
    return sum(replan(pk) for pk in stale.order_by("setup_at", "pk").values_list("pk", flat=True))


def replan(session_id: int) -> bool:
    """Plan one session anew in a transaction of its own. The row is held before it is read with its joins."""
    with transaction.atomic():
        Session.objects.select_for_update().get(pk=session_id)
        return _plan(Session.objects.with_all().get(pk=session_id))


def _plan(session: Session) -> bool:
    """A plan that can't be made never stops a booking: it is marked, and the next tick tries again.

    That holds for a mistake of ours as well, which is why every error is caught here: it is in the log, and
    the session's page says that there is no plan yet.
    """
    try:
        with transaction.atomic():
            plan = plan_session(session)
    except Exception:
        log.exception("Session %s could not be planned; it is tried again.", session.pk)
        Plan.objects.update_or_create(
            session=session, defaults={"stale": True}, create_defaults=_nothing_yet()
        )
        remind(session)
        return False
    if plan and not plan.weighed:
        transaction.on_commit(wake_worker, robust=True)
    return True


def _nothing_yet() -> dict[str, Any]:
    return {"stale": True, "status": "not planned yet", "made_at": timezone.now()}
