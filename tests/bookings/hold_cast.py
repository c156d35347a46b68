"""Holds for tests: placed one after another, so that each is a minute younger than the one before."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine

from bookings.models import Session
from studio.models import Room
from tests.bookings.cast import make_session
from tests.house import at

NOW = "2027-03-01 11:00"  # a Monday; the sessions are on Thursday, 4 March


def hold(
    room: Room, load_in: str = "10:00", end: str = "18:00", title: str = "Tin Harbour", **more: Any
) -> Session:
    return make_session(room, load_in, end, title=title, status=Session.Status.HELD, **more)


def fresh(session: Session) -> Session:
    return Session.objects.with_all().get(pk=session.pk)


def told(session: Session) -> list[str]:
    """The history's kinds of entry, oldest first."""
    return [entry.what for entry in reversed(list(session.history.all()))]


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(at(NOW), tick=False) as traveller:
        yield traveller
