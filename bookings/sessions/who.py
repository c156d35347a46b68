"""Who could come to a session: everybody in the role, and first those who are asked for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import tzinfo

from bookings.drafts import Called, Draft
from bookings.sessions.crewfields import ASSIGNED
from bookings.sessions.forms import SessionForm
from studio.choices import SomeOf
from studio.claims import in_the_way
from studio.clock import say_span
from studio.models import Claim, Person, Role
from studio.spans import Span


@dataclass(frozen=True, slots=True)
class WhoIsFree:
    """People who could come as `role`: names of the free, and sentences about the others.

    chosen: of each who is asked for, whether they are free, how they are asked and what is in the way.
    """

    role: str
    free: Sequence[str]
    taken: Sequence[str]
    chosen: Sequence[tuple[bool, str]]


def who_is_free(form: SessionForm, draft: Draft) -> list[WhoIsFree]:
    """One query for all that is taken."""
    offered = {role: _offered(form, name) for name, role in ASSIGNED.items()}
    ids = {person.resource_id for people in offered.values() for person in people}
    taken: dict[int, list[Claim]] = {}
    for claim in in_the_way(ids, Span(draft.setup_at, draft.clear_at), form.session):
        taken.setdefault(claim.resource_id, []).append(claim)
    return [_who(role, people, taken, draft) for role, people in offered.items()]


def _offered(form: SessionForm, name: str) -> list[Person]:
    field = form.fields[name]
    return list(field.queryset) if isinstance(field, SomeOf) and field.queryset is not None else []


def _who(role: Role, people: Iterable[Person], taken: dict[int, list[Claim]], draft: Draft) -> WhoIsFree:
    free, busy, chosen = [], [], []
    asked = {called.person_id: called for called in draft.crew if called.role == role}
    for person in people:
        called = asked.get(person.pk) or Called(person.pk, role, None)
        spans = draft.calls_of(called)
        claims = [c for c in taken.get(person.resource_id, []) if any(c.span.overlaps(s) for s in spans)]
        why = "; ".join(_why(claim, draft.room.site.tz) for claim in claims)
        if person.pk in asked:
            how = "assigned" if called.assigned else "wanted"
            chosen.append((not claims, f"{person.name}, {how}{f': {why}' if why else ''}"))
        elif claims:
            busy.append(f"{person.name}: {why}")
        else:
            free.append(person.name)
    return WhoIsFree(role.label, free, busy, chosen)


def _why(claim: Claim, tz: tzinfo) -> str:
    return f"{claim.get_purpose_display()}, “{claim.reason}”, {say_span(claim.span, tz)}"
