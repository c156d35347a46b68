"""What the booking form answers while it is filled in: what is in the way, who and what is free, what else to do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.utils import timezone

from bookings.alternatives import WEIGHTS
from bookings.drafts import Draft
from bookings.ladder import new_pieces, standing_on, wanted_pieces
from bookings.models import Session
from bookings.nearby import warnings_about_noise, what_joins
from bookings.obstacles import obstacles
from bookings.people import warnings_for
from bookings.saying import WAYS_ON, hold_sentences
from bookings.sessions.filling import Press, press_for, press_for_setup
from bookings.sessions.forms import SessionForm
from bookings.sessions.gear_said import GearSaid, about_gear
from bookings.sessions.nearest import alternatives
from bookings.sessions.who import WhoIsFree, who_is_free
from bookings.setups import explained, minutes_for, work_of
from studio.claims import in_the_way
from studio.clock import say, say_length, say_span
from studio.models import Role
from studio.spans import Span, first_gap

CONFIRMED = Session.Status.CONFIRMED


@dataclass(frozen=True, slots=True)
class Answer:
    """alternatives are presses that fill the form; setup says how the setup time comes about."""

    takes: str
    in_the_way: Sequence[str]
    next_free: str
    people: Sequence[WhoIsFree]
    holds: Sequence[str]
    behind: Sequence[str]
    warnings: Sequence[str]
    gear: Sequence[GearSaid]
    joins: Sequence[str]
    setup: str
    setup_press: Press | None
    alternatives: Sequence[Press]
    weights: str = WEIGHTS


def answer(form: SessionForm) -> Answer | None:
    """The answer to what has been typed, or None while the room and the three times aren't known."""
    if form.is_bound:
        form.is_valid()
    if not form.room_and_times:
        return None
    draft = form.draft(job_id=0)
    in_way, holds = obstacles(draft, form.session), _holds(form, draft)
    setup, setup_press = _setup(form, draft)
    stuck = in_way or (holds and draft.firm)
    found = alternatives(draft, form.session, timezone.now()) if stuck else []
    return Answer(
        takes=_takes(draft),
        in_the_way=in_way,
        next_free=_next_free(draft, form.session) if in_way else "",
        people=who_is_free(form, draft),
        holds=holds,
        behind=[] if draft.firm else obstacles(replace(draft, status=CONFIRMED), form.session),
        warnings=[*warnings_about_noise(draft, form.session), *warnings_for(draft, form.session)],
        gear=about_gear(form.wanted.values(), draft, form.session),
        joins=what_joins(draft),
        setup=setup,
        setup_press=setup_press,
        alternatives=[press_for(each, draft) for each in found],
    )


def _takes(draft: Draft) -> str:
    tz = draft.room.site.tz
    whole = say_span(Span(draft.setup_at, draft.clear_at), tz)
    booked = say_length(sum((day.length for day in draft.days[1:]), draft.days[0].length))
    names = " and ".join(room.name for room in (draft.room, *draft.beside))
    spare = f", {say_length(draft.last - draft.end)} of spare time" if draft.spare_minutes else ""
    days = f" on {len(draft.days)} days; the room stays set between them" if draft.day_hours else ""
    return f"Takes {names} {whole}, with setup{spare} and turnaround; {booked} are booked{days}."


def _setup(form: SessionForm, draft: Draft) -> tuple[str, Press | None]:
    """Where the setup minutes come from; what the plan says is offered when it is another figure."""
    stands = round((draft.load_in - draft.setup_at).total_seconds() / 60)
    said = f"Setup {say_length(draft.load_in - draft.setup_at)} before load-in"
    work = work_of(form.session) if form.session else None
    if work is None:
        source = "as typed" if draft.setup_minutes is not None else f"the usual of {draft.room.name}"
        return f"{said}: {source}. Once there is an input list, its plan says how long it takes.", None
    assistants = sum(called.role == Role.ASSISTANT and called.assigned for called in draft.crew)
    planned = minutes_for(work, assistants)
    press = press_for_setup(planned) if planned != stands else None
    return f"{said}. {explained(work, assistants)}", press


def _holds(form: SessionForm, draft: Draft) -> list[str]:
    """For a booking the holds that it would pass; for a hold those that it would stand behind."""
    pieces = new_pieces(form.session, draft) if form.session else wanted_pieces(draft)
    holds = standing_on(pieces, timezone.now(), form.session)
    sentences = hold_sentences(holds, draft.room.site.tz, draft.whole if draft.firm else None)
    return [*sentences, WAYS_ON] if sentences and draft.firm else sentences


def _next_free(draft: Draft, session: Session | None) -> str:
    """When its rooms with all their parts are free for the same length; people are not asked here."""
    length = draft.clear_at - draft.setup_at
    ids = [room.resource_id for room in draft.rooms]
    claims = in_the_way(ids, Span(draft.setup_at, None), session)
    start = first_gap([claim.span for claim in claims], draft.setup_at, length)
    if start is None:
        return f"{draft.room.name} is taken with no known end."
    if start == draft.setup_at:
        return ""
    load_in = start + (draft.load_in - draft.setup_at)
    return f"{draft.room.name} is next free for as long with load-in {say(load_in, draft.room.site.tz)}."


def typed_so_far(form: SessionForm) -> list[str]:
    """What is already wrong with what has been typed; an empty field is not wrong yet."""
    return [
        str(message)
        for name, messages in form.errors.items()
        if name in form.data and form.data.get(name)
        for message in messages
    ]
