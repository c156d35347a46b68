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
from studio.models import Claim, Person
from studio.spans import Span


@dataclass(frozen=True, slots=True)
class Taken:
    """own: the resources of the draft's own rooms. claims and holds by resource, within a span."""

    own: frozenset[int]
    within: Span
    claims: dict[int, list[Claim]]
    holds: dict[int, list[Claim]]
    people: dict[int, Person]

    def of_rooms(self, resources: Iterable[int]) -> list[Span]:
        return [claim.span for resource in resources for claim in self.claims.get(resource, [])]

    def of_all(self, draft: Draft) -> list[Span]:
        """Of its rooms and of everybody that it calls."""
        people = [self.people[c.person_id].resource_id for c in draft.crew if c.person_id in self.people]
        return self.of_rooms([*self.own, *people])

    def why_not(self, called: Called, draft: Draft) -> str:
        """Why somebody can't come then; empty when they can."""
        person = self.people.get(called.person_id)
        if person is None:
            return ""
        spans = draft.calls_of(called)
        for claim in self.claims.get(person.resource_id, []):
            if any(claim.span.overlaps(span) for span in spans):
                when = say_span(claim.span, draft.room.site.tz)
                return f"without {person.name} ({claim.get_purpose_display()}, “{claim.reason}”, {when})"
        return ""

    def holds_on(self, resources: Iterable[int], span: Span) -> list[str]:
        """The titles of holds that stand there."""
        claims = [claim for pk in resources for claim in self.holds.get(pk, []) if claim.span.overlaps(span)]
        return list({claim.origin_id: claim.reason for claim in claims}.values())


def taken_around(
    draft: Draft, others: Sequence[frozenset[int]], reach: timedelta, session: Session | None
) -> Taken:
    """Its own rooms and people for `reach` to both sides, other rooms for the time of the draft. Five queries."""
    own = frozenset(room.resource_id for room in draft.rooms)
    ids = [called.person_id for called in draft.crew]
    people = Person.objects.in_bulk(ids)
    wide = Span(draft.setup_at - reach, draft.clear_at + reach)
    near = Span(draft.setup_at - timedelta(days=1), draft.clear_at + timedelta(days=1))
    far_ids = own | {person.resource_id for person in people.values()}
    near_ids = frozenset().union(*others) - far_ids
    found = [*_claims(far_ids, wide, session), *_claims(near_ids, near, session)]
    firm, holds = dict[int, list[Claim]](), dict[int, list[Claim]]()
    for claim in found:
        if claim.firm:
            firm.setdefault(claim.resource_id, []).append(claim)
        elif claim.purpose in ROOM_TIME:
            holds.setdefault(claim.resource_id, []).append(claim)
    return Taken(own, wide, firm, holds, people)


def _claims(resources: Iterable[int], span: Span, session: Session | None) -> Iterable[Claim]:
    """Firm ones, and those of holds."""
    kind = ContentType.objects.get_for_model(Session)
    telling = Q(firm=True) | Q(origin_type=kind)
    found = Claim.objects.filter(telling, resource_id__in=list(resources)).overlapping(span).not_of(session)
    return found.order_by("starts", "pk")
