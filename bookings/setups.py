"""How long setting up takes. The layer that plans tells it with `by_plan`; until then the room's own minutes hold."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from math import ceil

from bookings.models import Session
from studio.clock import say_length

STEP_MINUTES = 15


@dataclass(frozen=True, slots=True)
class SetupWork:
    """What a plan knows of a session's setup: how many tasks, and their minutes for one person alone."""

    tasks: int
    minutes: int


Look = Callable[[Session], SetupWork | None]
_looks: list[Look] = []


def by_plan(look: Look) -> Look:
    """Registers who knows the setup work of a session that has a plan."""
    if look not in _looks:
        _looks.append(look)
    return look


def work_of(session: Session) -> SetupWork | None:
    found = (look(session) for look in _looks)
    return next((work for work in found if work and work.tasks), None)


def minutes_for(work: SetupWork, assistants: int) -> int:
    """The work shared by the assistants (by one, if none is named), rounded up to a quarter of an hour."""
    return ceil(work.minutes / max(assistants, 1) / STEP_MINUTES) * STEP_MINUTES


def explained(work: SetupWork, assistants: int) -> str:
    """“14 setup tasks of 130 min, shared by 2 assistants: 1 h 15 min.”"""
    tasks = "1 setup task" if work.tasks == 1 else f"{work.tasks} setup tasks"
    alone = say_length(timedelta(minutes=work.minutes))
    shared = f", shared by {assistants} assistants" if assistants > 1 else " for one assistant"
    whole = say_length(timedelta(minutes=minutes_for(work, assistants)))
    return f"By the plan {tasks} of {alone}{shared}: {whole}, in quarters of an hour."
