"""Sessions that compete for the same units: weighed together, and what each had to give up is kept with its plan."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.contrib.contenttypes.models import ContentType
from django.db import transaction
from django.utils import timezone

from bookings.models import Session
from bookings.wishes import kept_now
from studio.claims import Conflict, take
from studio.models import Claim
from tasks.models import Plan
from tasks.plan_session import keep_plan
from tasks.planning.costs import Costs
from tasks.planning.snapshot import Plan as Made
from tasks.planning.snapshot import Snapshot
from tasks.planning.together import GivenUp, given_up, lacking, shares
from tasks.snapshots import Looked
from tasks.solving import Wants, look_for, made_from, same_hours, wants_of
from tasks.telling import tell_changes

log = logging.getLogger(__name__)

MOST_RIVALS = 3
"""More are not weighed at once; who isn't weighed keeps what it has."""


@dataclass(frozen=True, slots=True)
class Member:
    """One of those that compete, and all that it could use if the others weren't there."""

    session: Session
    plan_id: int
    wants: Wants
    looked: Looked


@dataclass(frozen=True, slots=True)
class Outcome:
    """What each member is to have, in the order of the group; better: than what it has, and so to be kept."""

    better: bool
    looks: Sequence[Looked]
    made: Sequence[Made]
    gave_way: Sequence[list[GivenUp]]


def weigh_waiting() -> int:
    """Weigh every plan that hasn't been since it was made; counts those that it changed anything for."""
    ahead = Plan.objects.filter(weighed=False, stale=False, session__setup_at__gt=timezone.now())
    return sum(
        _tried(pk) for pk in ahead.order_by("session__setup_at", "pk").values_list("session", flat=True)
    )


def _tried(session_id: int) -> bool:
    """What is taken meanwhile is weighed at the next tick; what goes wrong by a fault of ours isn't tried again."""
    try:
        return weigh(session_id)
    except Conflict:
        return False
    except Exception:
        log.exception("Session %s could not be weighed against those of the same hours.", session_id)
        Plan.objects.filter(session=session_id).update(weighed=True)
        return False


def weigh(session_id: int) -> bool:
    """Plan the session together with those that hold what it would rather have. True where that changes anything.

    Nothing is taken from a session whose setup has begun, and nothing that was chosen by hand or wanted by tag.
    It is worked out before anything is held; what has changed by then is weighed at the next tick.
    """
    group = _group(session_id)
    outcome = _shared_out(group) if len(group) > 1 else None
    with transaction.atomic():
        if not _still_as_read(group):
            return False
        if outcome:
            _keep(group, outcome)
        Plan.objects.filter(session__in={session_id, *(m.session.pk for m in group)}).update(weighed=True)
    return outcome is not None and outcome.better


def _group(session_id: int) -> list[Member]:
    """The session and its rivals; empty where there is nothing to share out."""
    session = Session.objects.with_all().filter(pk=session_id, status=Session.Status.CONFIRMED).first()
    if session is None or session.setup_at <= timezone.now():
        return []
    rivals = _rivals(session, list(same_hours(session).filter(setup_at__gt=timezone.now())))
    return _members([session, *rivals]) if rivals else []


def _still_as_read(group: Sequence[Member]) -> bool:
    """Holds the sessions' rows in one order; false where one was changed, or planned anew, since it was read."""
    pks = [member.session.pk for member in group]
    held = Session.objects.select_for_update().filter(pk__in=pks).order_by("pk")
    versions = dict(held.values_list("pk", "version"))
    return versions == {m.session.pk: m.session.version for m in group} and _plans_of(pks) == {
        m.session.pk: m.plan_id for m in group
    }


def _plans_of(session_ids: Sequence[int]) -> dict[int, int]:
    """The plans that stand and needn't be made anew."""
    plans = Plan.objects.filter(session__in=session_ids, stale=False)
    return dict(plans.values_list("session", "pk"))


def _rivals(session: Session, others: Sequence[Session]) -> list[Session]:
    """Those who have what the session would use if they weren't there."""
    if not others:
        return []
    wants = wants_of(session)
    looked = look_for(session, wants, others)
    alone = made_from(session, looked, wants)
    tags = {row.unit for row in alone.inputs} | {row.preamp for row in alone.inputs}
    ids = [looked.units[tag].resource_id for tag in tags if tag]
    holders = Claim.objects.filter(
        resource__in=ids,
        purpose=Claim.Purpose.GEAR,
        origin_type=ContentType.objects.get_for_model(Session),
        origin_id__in=[other.pk for other in others],
    )
    found = set(holders.values_list("origin_id", flat=True))
    return [other for other in others if other.pk in found][:MOST_RIVALS]


def _members(sessions: Sequence[Session]) -> list[Member]:
    bound = {session.pk: _bound_to(session) for session in sessions}
    plans = _plans_of([session.pk for session in sessions])
    members = []
    for session in sessions:
        wants = wants_of(session)
        looked = look_for(session, wants, [other for other in sessions if other.pk != session.pk])
        theirs = set().union(*(bound[other.pk] for other in sessions if other.pk != session.pk))
        mine = replace(looked, snapshot=_without(looked.snapshot, theirs))
        members.append(Member(session, plans.get(session.pk, 0), wants, mine))
    return members


def _bound_to(session: Session) -> set[str]:
    """What a person chose for it: by hand on the input list, or by tag in the booking."""
    pinned = session.pins.values_list("unit__tag", "preamp_channel__unit__tag")
    wished = session.wanted_units.values_list("tag", flat=True)
    return {tag for pair in pinned for tag in pair if tag} | set(wished)


def _without(snapshot: Snapshot, tags: set[str]) -> Snapshot:
    return replace(
        snapshot,
        pickups=tuple(unit for unit in snapshot.pickups if unit.tag not in tags),
        preamps=tuple(rack for rack in snapshot.preamps if rack.tag not in tags),
    )


def _shared_out(group: Sequence[Member]) -> Outcome | None:
    """The shares where they leave less out, or cost clearly less, than what stands now; None: no answer in time."""
    costs = group[0].wants.costs
    split = shares([member.looked.snapshot for member in group], costs=costs)
    if split is None:
        return None
    mine = [replace(member.looked, snapshot=share) for member, share in zip(group, split, strict=True)]
    theirs = [look_for(member.session, member.wants) for member in group]
    made, stands = _plans(group, mine), _plans(group, theirs)
    now, then = _lack(mine, made, costs), _lack(theirs, stands, costs)
    better = now[:-1] < then[:-1] or (now[:-1] == then[:-1] and now[-1] + costs.step_down_in_kind <= then[-1])
    looks, best = (mine, made) if better else (theirs, stands)
    alone = _plans(group, [member.looked for member in group])
    return Outcome(better, looks, best, [given_up(alone, best, number) for number in range(len(group))])


def _plans(group: Sequence[Member], looks: Sequence[Looked]) -> list[Made]:
    return [
        made_from(member.session, looked, member.wants) for member, looked in zip(group, looks, strict=True)
    ]


def _lack(looks: Sequence[Looked], made: Sequence[Made], costs: Costs) -> tuple[float, ...]:
    return lacking([(looked.snapshot, plan) for looked, plan in zip(looks, made, strict=True)], costs)


def _keep(group: Sequence[Member], outcome: Outcome) -> None:
    """Everybody lets go before anybody takes, since they may exchange. Raises Conflict."""
    if outcome.better:
        for member in group:
            take(member.session, kept_now(member.session), instead=[Claim.Purpose.GEAR])
        for member, looked, plan in zip(group, outcome.looks, outcome.made, strict=True):
            kept = keep_plan(member.session, looked, plan, questions=member.wants.questions)
            tell_changes(member.session, kept, member.wants.differences(plan), None)
    for member, lost in zip(group, outcome.gave_way, strict=True):
        told = [_told(each, group) for each in lost]
        Plan.objects.filter(session=member.session).update(gave_way=told)


def _told(each: GivenUp, group: Sequence[Member]) -> dict[str, str | int | None]:
    """As the input list says it; the other session by its number, since who reads may not be on it."""
    return {
        "label": each.label,
        "unit": each.unit,
        "holder": group[each.holder].session.pk,
        "instead": each.instead,
    }
