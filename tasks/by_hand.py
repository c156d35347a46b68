"""Changing a session's inputs by hand: added, dropped, allowed, kept as they are; and what each would do, asked
before. Each plan keeps it, the history says it, one press undoes it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from bookings.history import note
from bookings.models import Session
from studio.access import Act, require
from studio.claims import Conflict
from studio.models import Person
from tasks.catalogue import load_catalogue
from tasks.catalogue.sources import MICROPHONE_KINDS, STANDS
from tasks.models import ByHand, Pin, PlannedInput, UnfilledNeed
from tasks.plan_session import plan_session
from tasks.planning import words
from tasks.planning.changes import differences
from tasks.solving import PlanRefused, look_for, made_from, wants_of

MOST_AT_ONCE = 24
PICKUPS = {"": "as usual", "mic": "microphone", "di": "DI", "mic+di": "microphone and DI", "line": "line"}


class NotDone(ValueError):
    """It can't be done so; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What a change would do, in sentences: takes is what is new or freed, breaks what it would cost the others."""

    takes: list[str]
    breaks: list[str]


def added(source: str, count: int = 1, pickup: str = "") -> ByHand:
    """Not saved yet. Raises NotDone for what the catalogue doesn't know."""
    said = " ".join(source.split()).casefold()
    found = next(
        (s for s in load_catalogue().sources if said in (s.name.casefold(), s.short.casefold())), None
    )
    if found is None:
        raise NotDone(f"No source is called “{source}”. Choose one of the list.")
    if not 1 <= count <= MOST_AT_ONCE:
        raise NotDone(f"Add between 1 and {MOST_AT_ONCE} at once.")
    if pickup not in PICKUPS:
        raise NotDone("Choose how it is picked up.")
    return ByHand(act=ByHand.Act.ADD, source=found.id, count=count, pickup=pickup)


def dropped(session: Session, label: str) -> ByHand:
    """Not saved yet. Raises NotDone where the session has no such input."""
    rows = PlannedInput.objects.filter(plan__session=session, label=label)
    open_needs = UnfilledNeed.objects.filter(plan__session=session, label=label)
    if not rows.exists() and not open_needs.exists():
        raise NotDone(f"There is no input “{label}” any more. Open the list again.")
    return ByHand(act=ByHand.Act.DROP, label=label)


def allowed(session: Session, label: str, kind: str) -> ByHand:
    """One more kind of microphone, or another kind of stand, for an input. Not saved yet."""
    if kind not in (*MICROPHONE_KINDS, *STANDS):
        raise NotDone("Choose a kind of the list.")
    dropped(session, label)  # there is such an input
    act = ByHand.Act.STAND if kind in STANDS else ByHand.Act.ALLOW
    return ByHand(act=act, label=label, kind=kind)


def what_if(session: Session, change: ByHand) -> WhatIf:
    """The plan as it would be, against the one that stands. Saves nothing."""
    wants = wants_of(session, [change])
    made = made_from(session, look_for(session, wants), wants)
    agreed = wants.agreed
    open_before = set(UnfilledNeed.objects.filter(plan__session=session).values_list("label", flat=True))
    fresh = [n for n in made.unfilled if n.label not in open_before and n.label not in agreed]
    said = differences(agreed, made)
    takes = [each for each in said if each.startswith(("New: ", "No longer: "))]
    breaks = [each for each in said if each not in takes]
    return WhatIf(takes, [*(f"Can’t be met: {need.label}. {need.reason}" for need in fresh), *breaks])


def keep(by: Person, session_id: int, build: Callable[[Session], ByHand]) -> ByHand:
    """Keep a change and plan by it. Raises NotDone, PermissionDenied."""
    require(by, Act.PLAN)
    with transaction.atomic():
        session = _held(session_id)
        change = build(session)
        change.session, change.by, change.at = session, by, timezone.now()
        change.save()
        note(session, by, "changed", f"By hand: {in_words(change)}.")
        _planned_anew(session, by)
    return change


def pin(by: Person, session_id: int, input_id: int) -> PlannedInput:
    """Keep an input as it is: unit and channel. Raises NotDone, PermissionDenied."""
    require(by, Act.PLAN)
    with transaction.atomic():
        session = _held(session_id)
        row = PlannedInput.objects.filter(pk=input_id, plan__session=session).first()
        if row is None:
            raise NotDone("That list has been planned anew meanwhile. Open it again.")
        session.pins.filter(label=row.label).delete()
        for field in ("unit", "preamp_channel"):
            if thing := getattr(row, field):
                session.pins.create(label=row.label, by=by, at=timezone.now(), **{field: thing})
        note(session, by, "changed", f"By hand: {row.label} stays on {row.unit}, {row.preamp_channel}.")
    return row


def undo(by: Person, session_id: int, *, change_id: int = 0, label: str = "") -> str:
    """Take back one change, or all that was chosen for the input of this label; says what. Raises NotDone."""
    require(by, Act.PLAN)
    with transaction.atomic():
        session = _held(session_id)
        found = session.by_hand.filter(pk=change_id) if change_id else session.pins.filter(label=label)
        said = [in_words(each) for each in found if isinstance(each, ByHand)] or [f"{label} kept as it is"]
        if not found.exists():
            raise NotDone("That has been taken back already.")
        found.delete()
        note(session, by, "changed", f"Taken back: {said[0]}.")
        _planned_anew(session, by)
    return said[0]


def in_words(change: ByHand) -> str:
    """“added 2 tambourine, microphone”; “dropped Snare bottom”; “allowed a ribbon for Trumpet”."""
    match change.act:
        case ByHand.Act.ADD:
            source = load_catalogue().by_id.get(change.source)
            how = f", {PICKUPS[change.pickup]}" if change.pickup else ""
            return f"added {change.count} × {source.name if source else change.source}{how}"
        case ByHand.Act.DROP:
            return f"dropped {change.label}"
        case ByHand.Act.STAND:
            return f"{words.stand(change.kind)} for {change.label}"
        case _:
            return f"allowed a {words.kind(change.kind)} for {change.label}"


def chosen(session: Session) -> dict[str, list[Pin]]:
    """What was pinned or swapped in by hand, by the label of the input."""
    found: dict[str, list[Pin]] = {}
    for each in session.pins.select_related("unit__gear_model", "preamp_channel__unit", "by"):
        found.setdefault(each.label, []).append(each)
    return found


def _held(session_id: int) -> Session:
    Session.objects.select_for_update().get(pk=session_id)
    session = Session.objects.with_all().get(pk=session_id)
    if session.cancelled:
        raise NotDone("This session is cancelled: its inputs can’t be changed.")
    return session


def _planned_anew(session: Session, by: Person) -> None:
    try:
        plan_session(session, by)
    except Conflict:
        raise NotDone("Somebody was quicker, and what it takes is gone. Try again.") from None
    except PlanRefused:
        raise NotDone("That could not be planned just now. Try again in a minute.") from None
