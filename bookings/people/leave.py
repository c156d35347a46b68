"""Leave: time that a person is away, taken firmly like a call, and given back when they come after all."""

from __future__ import annotations

from collections.abc import Iterable

from django.contrib.contenttypes.models import ContentType
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.utils import timezone

from studio.access import Act, may, may_keep_hours
from studio.claims import Conflict, Wanted, in_the_way, release, take
from studio.models import Claim, Leave, Person, Resource
from studio.spans import Span, gaps

LEAVE = Claim.Purpose.LEAVE


class NothingLeft(Exception):
    """The whole time is taken already: there is no rest of it to be on leave in."""


class Over(Exception):
    """The leave has passed, and stays as it was."""


def enter_leave(by: Person, person: Person, span: Span, why: str = "", around: bool = False) -> Leave:
    """Take the person for leave. Raises Conflict with what stands in the way, and then nothing has changed.

    around: calls that stand stay, and only the time between is leave; for managers. Hours busy elsewhere never
    stand in the way: whoever is on leave often has it in their own calendar too. Raises NothingLeft and
    PermissionDenied.
    """
    _require(by, person, around)
    if span.end is None:
        raise ValueError("Leave needs an end.")
    with transaction.atomic():
        Resource.objects.select_for_update().get(pk=person.resource_id)
        standing = in_the_way([person.resource_id], span)
        kept = [claim.span for claim in standing if around or claim.purpose == Claim.Purpose.BUSY]
        if not (parts := gaps(kept, span)):
            raise NothingLeft
        leave = Leave.objects.create(person=person, starts=span.start, ends=span.end, why=why)
        take(leave, _wanted(leave, parts))
    return leave


def take_back(by: Person, leave: Leave) -> None:
    """The person is there after all: from now on, when the leave has begun. The row stays. Raises Over."""
    _require(by, leave.person, around=False)
    now = timezone.now()
    if leave.ends <= now:
        raise Over
    with transaction.atomic():
        taken = [claim.span for claim in Claim.objects.of(leave)]
        past = [Span(span.start, min(span.end or now, now)) for span in taken if span.start < now]
        release(leave)
        take(leave, _wanted(leave, past))


def parts_of(leaves: Iterable[Leave]) -> dict[int, list[Span]]:
    """The time that each leave takes, by its number; one that was taken back has none. One query."""
    found: dict[int, list[Span]] = {leave.pk: [] for leave in leaves}
    if not found:
        return found
    kind = ContentType.objects.get_for_model(Leave)
    claims = Claim.objects.filter(origin_type=kind, origin_id__in=list(found))
    for claim in claims.order_by("starts", "pk"):
        found[claim.origin_id].append(claim.span)
    return found


def _require(by: Person, person: Person, around: bool) -> None:
    if not may_keep_hours(by, person):
        raise PermissionDenied("Only the person themselves or a manager can enter or take back leave.")
    if around and not may(by, Act.BOOK):
        raise PermissionDenied("Only a manager can let calls stand within a leave.")


def _wanted(leave: Leave, parts: Iterable[Span]) -> list[Wanted]:
    """What it is for is told by no claim, which others read: it stands on the person's page alone."""
    return [Wanted(leave.person.resource_id, span, LEAVE, LEAVE.label) for span in parts]


__all__ = ["Conflict", "NothingLeft", "Over", "enter_leave", "parts_of", "take_back"]
