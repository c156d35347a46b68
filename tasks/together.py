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
    wants: Wants
    looked: Looked


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
    """
    with transaction.atomic():
        group = _held(session_id)
        changed = len(group) > 1 and _share_out(group)
        Plan.objects.filter(session__in=[member.session for member in group]).update(weighed=True)
        Plan.objects.filter(session_id=session_id).update(weighed=True)
    return changed


def _held(session_id: int) -> list[Member]:
    """The session and its rivals, each row held; alone or empty where there is nothing to share out."""
    session = Session.objects.with_all().filter(pk=session_id, status=Session.Status.CONFIRMED).first()
    if session is None or session.setup_at <= timezone.now():
        return []
    rivals = _rivals(session, list(same_hours(session).filter(setup_at__gt=timezone.now())))
    group = sorted([session, *rivals], key=lambda one: one.pk)
    list(Session.objects.select_for_update().filter(pk__in=[one.pk for one in group]).order_by("pk"))
    return _members([session, *rivals]) if rivals else []


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
    members = []
    for session in sessions:
        wants = wants_of(session)
        looked = look_for(session, wants, [other for other in sessions if other.pk != session.pk])
        theirs = set().union(*(bound[other.pk] for other in sessions if other.pk != session.pk))
        members.append(Member(session, wants, replace(looked, snapshot=_without(looked.snapshot, theirs))))
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


def _share_out(group: Sequence[Member]) -> bool:
    """Keep the shares where they leave less out, or cost clearly less, than what stands now."""
    costs = group[0].wants.costs
    split = shares([member.looked.snapshot for member in group], costs=costs)
    if split is None:
        return False
    mine = [replace(member.looked, snapshot=share) for member, share in zip(group, split, strict=True)]
    made = [
        made_from(member.session, looked, member.wants) for member, looked in zip(group, mine, strict=True)
    ]
    theirs = [look_for(member.session, member.wants) for member in group]
    stands = [
        made_from(member.session, looked, member.wants) for member, looked in zip(group, theirs, strict=True)
    ]
    now, then = _lack(mine, made, costs), _lack(theirs, stands, costs)
    better = now[:-1] < then[:-1] or (now[:-1] == then[:-1] and now[-1] + costs.step_down_in_kind <= then[-1])
    if better:
        _keep(group, mine, made)
    _tell_who_gave_way(group, made if better else stands)
    return better


def _lack(looks: Sequence[Looked], made: Sequence[Made], costs: Costs) -> tuple[float, ...]:
    return lacking([(looked.snapshot, plan) for looked, plan in zip(looks, made, strict=True)], costs)


def _keep(group: Sequence[Member], looks: Sequence[Looked], made: Sequence[Made]) -> None:
    """Everybody lets go before anybody takes, since they may exchange."""
    for member in group:
        take(member.session, kept_now(member.session), instead=[Claim.Purpose.GEAR])
    for member, looked, plan in zip(group, looks, made, strict=True):
        kept = keep_plan(member.session, looked, plan, questions=member.wants.questions)
        tell_changes(member.session, kept, member.wants.differences(plan), None)


def _tell_who_gave_way(group: Sequence[Member], made: Sequence[Made]) -> None:
    alone = [made_from(member.session, member.looked, member.wants) for member in group]
    for number, member in enumerate(group):
        lost = [_told(each, group) for each in given_up(alone, made, number)]
        Plan.objects.filter(session=member.session).update(gave_way=lost)


def _told(each: GivenUp, group: Sequence[Member]) -> dict[str, str | int | None]:
    """As the input list says it; the other session by its number, since who reads may not be on it."""
    return {
        "label": each.label,
        "unit": each.unit,
        "holder": group[each.holder].session.pk,
        "instead": each.instead,
    }
