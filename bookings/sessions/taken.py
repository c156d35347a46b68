"""What is taken around the time of a draft, read once, for looking at many alternatives."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta

from django.contrib.contenttypes.models import ContentType
from django.db.models import Q

from bookings.drafts import ROOM_TIME, Called, Draft
from bookings.models import Session
from studio.clock import say_span
from studio.models import Claim, GearUnit, Person
from studio.models.claims import ClaimQuerySet
from studio.spans import Span


@dataclass(frozen=True, slots=True)
class Taken:
    """own: the resources of the draft's own rooms. claims and holds by resource, within a span; near: the
    shorter one in which other rooms are known."""

    own: frozenset[int]
    within: Span
    near: Span
    claims: dict[int, list[Claim]]
    holds: dict[int, list[Claim]]
    people: dict[int, Person]
    units: dict[int, GearUnit]

    def of_rooms(self, resources: Iterable[int]) -> list[Span]:
        return [claim.span for resource in resources for claim in self.claims.get(resource, [])]

    def of_all(self, rooms: Iterable[int], draft: Draft) -> list[Span]:
        """Of these rooms, of everybody that the draft calls and of the gear that it wants."""
        people = [self.people[c.person_id].resource_id for c in draft.crew if c.person_id in self.people]
        units = [self.units[pk].resource_id for pk in draft.wanted_units if pk in self.units]
        return self.of_rooms([*rooms, *people, *units])

    def why_not(self, called: Called, draft: Draft) -> str:
        """Why somebody can't come then; empty when they can."""
        person = self.people.get(called.person_id)
        if person is None:
            return ""
        return self._without(person.name, person.resource_id, draft.calls_of(called), draft)

    def why_not_unit(self, unit_id: int, draft: Draft) -> str:
        """Which other session has a wanted unit then; empty when none has."""
        unit = self.units.get(unit_id)
        return self._without(unit.tag, unit.resource_id, [draft.whole], draft) if unit else ""

    def _without(self, name: str, resource: int, spans: Sequence[Span], draft: Draft) -> str:
        for claim in self.claims.get(resource, []):
            if any(claim.span.overlaps(span) for span in spans):
                when = say_span(claim.span, draft.room.site.tz)
                return f"without {name} ({claim.get_purpose_display()}, “{claim.reason}”, {when})"
        return ""

    def holds_on(self, resources: Iterable[int], span: Span) -> list[str]:
        """The titles of holds that stand there."""
        claims = [claim for pk in resources for claim in self.holds.get(pk, []) if claim.span.overlaps(span)]
        return list({claim.origin_id: claim.reason for claim in claims}.values())


def taken_around(
    draft: Draft, others: Sequence[frozenset[int]], reach: timedelta, session: Session | None
) -> Taken:
    """Its own rooms, people and gear for `reach` to both sides, other rooms for a day. Five queries, seven with
    gear: of that, what other sessions have, since a repair stops no session."""
    own = frozenset(room.resource_id for room in draft.rooms)
    ids = [called.person_id for called in draft.crew]
    people = Person.objects.in_bulk(ids)
    units = GearUnit.objects.in_bulk(draft.wanted_units) if draft.wanted_units else {}
    wide = Span(draft.setup_at - reach, draft.clear_at + reach)
    near = Span(draft.setup_at - timedelta(days=1), draft.clear_at + timedelta(days=1))
    far_ids = own | {person.resource_id for person in people.values()}
    near_ids = frozenset().union(*others) - far_ids
    found = [*_claims(far_ids, wide, session), *_claims(near_ids, near, session)]
    if units:
        by_session = ContentType.objects.get_for_model(Session)
        of_gear = _claims([unit.resource_id for unit in units.values()], wide, session)
        found += of_gear.filter(origin_type=by_session)
    firm, holds = dict[int, list[Claim]](), dict[int, list[Claim]]()
    for claim in found:
        if claim.firm:
            firm.setdefault(claim.resource_id, []).append(claim)
        elif claim.purpose in ROOM_TIME:
            holds.setdefault(claim.resource_id, []).append(claim)
    return Taken(own, wide, near, firm, holds, people, units)


def _claims(resources: Iterable[int], span: Span, session: Session | None) -> ClaimQuerySet:
    """Firm ones, and those of holds."""
    kind = ContentType.objects.get_for_model(Session)
    telling = Q(firm=True) | Q(origin_type=kind)
    found = Claim.objects.filter(telling, resource_id__in=list(resources)).overlapping(span).not_of(session)
    return found.order_by("starts", "pk")
