"""Of each unit that is wanted: whether it works at that time, whether it is free, and where it lives."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.contrib.contenttypes.models import ContentType

from bookings.drafts import Draft
from bookings.models import Session
from studio.claims import in_the_way
from studio.clock import say_span
from studio.gear.queries import resources_of
from studio.gear.state import state_of
from studio.models import Claim, GearUnit

KEPT = {True: "kept for it", False: "kept only once the hold is confirmed"}


@dataclass(frozen=True, slots=True)
class GearSaid:
    """mark is that of the unit's state, crossed where somebody has it."""

    mark: str
    words: str


def about_gear(units: Iterable[GearUnit], draft: Draft, session: Session | None) -> list[GearSaid]:
    """Of units with all that state_of reads. One query, however many there are."""
    wanted = list(units)
    owners = {pk: unit.pk for unit in wanted for pk in resources_of(unit)}
    taken: dict[int, list[Claim]] = {}
    for claim in in_the_way(owners, draft.whole, session) if owners else ():
        taken.setdefault(owners[claim.resource_id], []).append(claim)
    by_session = ContentType.objects.get_for_model(Session).pk
    return [_said(unit, taken.get(unit.pk, []), draft, by_session) for unit in wanted]


def _said(unit: GearUnit, claims: list[Claim], draft: Draft, by_session: int) -> GearSaid:
    state, tz = state_of(unit, at=draft.load_in), draft.room.site.tz
    whose = dict.fromkeys(
        f"{claim.get_purpose_display()}, “{claim.reason}”, {say_span(claim.span, tz)}" for claim in claims
    )
    free = f"not free: {'; '.join(whose)}" if claims else f"free, and {KEPT[draft.firm]}"
    if claims and not any(claim.origin_type_id == by_session for claim in claims):
        free += "; the session can be booked, but nothing is kept until it is back"
    where = f"; it lives at {unit.site}" if unit.site_id != draft.room.site_id else ""
    mark = "crossed" if claims else state.mark
    return GearSaid(mark, f"{unit.tag}, {unit.gear_model}: {state}; {free}{where}")
