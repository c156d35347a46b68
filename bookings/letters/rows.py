"""Letters about holds as rows, written in the transaction of the step that they tell of."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import datetime

from django.db.models import Q

from bookings.models import HoldLetter, Session
from studio.models import Person, Role
from studio.post import message_id

Kind, To = HoldLetter.Kind, HoldLetter.To


def write_asked(hold: Session, now: datetime, answer_by: datetime) -> None:
    """To the managers and to the client who holds: at once, and once more half-way to the deadline."""
    half_way = now + (answer_by - now) / 2
    for kind, due_at in ((Kind.ASKED, now), (Kind.REMINDED, half_way)):
        for reader, address in [*managers_of(hold), *client_of(hold)]:
            _write(hold, kind, reader, address, due_at, answer_by, answer_by)


def write_first(hold: Session, now: datetime) -> None:
    """To the managers: this challenger can be confirmed."""
    for reader, address in managers_of(hold):
        _write(hold, Kind.FIRST, reader, address, now, hold.load_in, about=str(now.timestamp()))


def write_decide(hold: Session, now: datetime) -> None:
    """To the managers, once for a hold and the day of its load-in."""
    for reader, address in managers_of(hold):
        _write(hold, Kind.DECIDE, reader, address, now, hold.load_in, about=hold.load_in.isoformat())


def managers_of(hold: Session) -> Iterator[tuple[str, str]]:
    """The managers of the hold's site, and those of the whole house."""
    here = Q(site=hold.room.site_id) | Q(site__isnull=True)
    for person in Person.objects.with_role(Role.MANAGER).filter(here).exclude(email=""):
        yield To.HOUSE, person.email


def client_of(hold: Session) -> Iterator[tuple[str, str]]:
    if hold.job.client.email:
        yield To.CLIENT, hold.job.client.email


def _write(
    hold: Session,
    kind: str,
    reader: str,
    address: str,
    due_at: datetime,
    useless_after: datetime,
    answer_by: datetime | None = None,
    about: str = "",
) -> None:
    about = answer_by.isoformat() if answer_by else about
    same = hashlib.sha256(f"{reader} {address} {about}".encode()).hexdigest()[:24]
    key = f"{hold.uid.hex}.{kind}.{same}"
    values = {
        "session": hold,
        "kind": kind,
        "reader": reader,
        "to": address,
        "due_at": due_at,
        "useless_after": useless_after,
        "answer_by": answer_by,
        "message_id": message_id("hold", key),
    }
    HoldLetter.objects.get_or_create(key=key, defaults=values)
