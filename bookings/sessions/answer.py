"""What the booking form answers while it is filled in: what is in the way, when else, and who is free."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import tzinfo

from django.utils import timezone

from bookings.booking import Draft, what_is_in_the_way
from bookings.ladder import new_pieces, standing_on, wanted_pieces
from bookings.models import Session
from bookings.saying import WAYS_ON, hold_sentences
from bookings.sessions.forms import CREW_FIELDS, SessionForm
from studio.claims import in_the_way
from studio.clock import say, say_length, say_span
from studio.models import Claim, Person, Role
from studio.spans import Span, first_gap

CONFIRMED = Session.Status.CONFIRMED


@dataclass(frozen=True, slots=True)
class WhoIsFree:
    """People who could come as `role`: names of the free, and sentences about the others."""

    role: str
    free: Sequence[str]
    taken: Sequence[str]


@dataclass(frozen=True, slots=True)
class Answer:
    takes: str
    in_the_way: Sequence[str]
    next_free: str
    people: Sequence[WhoIsFree]
    holds: Sequence[str]
    behind: Sequence[str]


def answer(form: SessionForm) -> Answer | None:
    """The answer to what has been typed, or None while the room and the three times aren't known."""
    if form.is_bound:
        form.is_valid()
    if not form.room_and_times:
        return None
    draft = form.draft(job_id=0)
    obstacles = what_is_in_the_way(draft, form.session)
    return Answer(
        takes=_takes(draft),
        in_the_way=obstacles,
        next_free=_next_free(draft, form.session) if obstacles else "",
        people=_people(form, draft),
        holds=_holds(form, draft),
        behind=[] if draft.firm else what_is_in_the_way(replace(draft, status=CONFIRMED), form.session),
    )


def _takes(draft: Draft) -> str:
    tz = draft.room.site.tz
    whole = say_span(Span(draft.setup_at, draft.clear_at), tz)
    booked = say_length(draft.end - draft.load_in)
    return f"Takes {draft.room.name} {whole}, with setup and turnaround; {booked} are booked."


def _holds(form: SessionForm, draft: Draft) -> list[str]:
    """For a booking the holds that it would pass; for a hold those that it would stand behind."""
    pieces = new_pieces(form.session, draft) if form.session else wanted_pieces(draft)
    holds = standing_on(pieces, timezone.now(), form.session)
    sentences = hold_sentences(holds, draft.room.site.tz)
    return [*sentences, WAYS_ON] if sentences and draft.firm else sentences


def _next_free(draft: Draft, session: Session | None) -> str:
    """When the room with all its parts is free for the same length; people are not asked here."""
    length = draft.clear_at - draft.setup_at
    ids = [room.resource_id for room in draft.room.with_parts()]
    claims = in_the_way(ids, Span(draft.setup_at, None), session)
    start = first_gap([claim.span for claim in claims], draft.setup_at, length)
    if start is None:
        return f"{draft.room.name} is taken with no known end."
    if start == draft.setup_at:
        return ""
    load_in = start + (draft.load_in - draft.setup_at)
    return f"{draft.room.name} is next free for as long with load-in {say(load_in, draft.room.site.tz)}."


def _people(form: SessionForm, draft: Draft) -> list[WhoIsFree]:
    offered = {name: list(form.fields[name].queryset) for name in CREW_FIELDS}  # type: ignore[attr-defined]
    ids = {person.resource_id for people in offered.values() for person in people}
    taken: dict[int, list[Claim]] = {}
    for claim in in_the_way(ids, Span(draft.setup_at, draft.clear_at), form.session):
        taken.setdefault(claim.resource_id, []).append(claim)
    return [
        _who(role, offered[name], taken, _called(role, draft), draft.room.site.tz)
        for name, role in CREW_FIELDS.items()
    ]


def _called(role: Role, draft: Draft) -> Span:
    """Assistants set up and break down, others come for the session itself (see Draft.call_of)."""
    if role == Role.ASSISTANT:
        return Span(draft.setup_at, draft.clear_at)
    return Span(draft.load_in, draft.end)


def _who(
    role: Role, people: Iterable[Person], taken: dict[int, list[Claim]], called: Span, tz: tzinfo
) -> WhoIsFree:
    free, busy = [], []
    for person in people:
        claims = [c for c in taken.get(person.resource_id, []) if c.span.overlaps(called)]
        if claims:
            busy.append(f"{person.name}: {'; '.join(_why(claim, tz) for claim in claims)}")
        else:
            free.append(person.name)
    return WhoIsFree(role.label, free, busy)


def _why(claim: Claim, tz: tzinfo) -> str:
    return f"{claim.get_purpose_display()}, “{claim.reason}”, {say_span(claim.span, tz)}"


def typed_so_far(form: SessionForm) -> list[str]:
    """What is already wrong with what has been typed; an empty field is not wrong yet."""
    return [
        str(message)
        for name, messages in form.errors.items()
        if name in form.data and form.data.get(name)
        for message in messages
    ]
