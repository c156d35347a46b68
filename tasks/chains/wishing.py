"""What somebody wants inserted on one input, in place of what the catalogue says of its source."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from bookings.history import note
from bookings.models import Session
from studio.access import Act, require
from studio.models import Person
from tasks.catalogue import load_catalogue
from tasks.chains.giving import usual
from tasks.follow import replan
from tasks.models import ChainWish, PlannedInput
from tasks.planning.chain_records import InsertWish

MOST = 4
USUAL = "usual"


class NotWished(ValueError):
    """It can't be wished for so; the message says why and what to do."""


def wish_for(by: Person, row: PlannedInput, inserts: Sequence[str] | None) -> bool:
    """Keep the wish and plan the session anew; None for what is usual. False: it is kept, but not planned yet."""
    require(by, Act.PLAN)
    known = load_catalogue().chains.inserts
    if inserts is not None and (strange := [name for name in inserts if name not in known]):
        raise NotWished(f"Nothing is called {strange[0]} here. Choose from the list.")
    if inserts is not None and len(inserts) > MOST:
        raise NotWished(f"At most {MOST} inserts are planned on one input.")
    with transaction.atomic():
        session = Session.objects.select_for_update().get(pk=row.plan.session_id)
        if session.cancelled:
            raise NotWished("The session is cancelled.")
        wishes = ChainWish.objects.filter(session=session, label__in=[row.label, *_other_half(row)])
        wishes.delete()
        if inserts is not None:
            ChainWish.objects.create(
                session=session, label=row.label, inserts=list(inserts), by=by, at=timezone.now()
            )
        names = ", ".join(known[name].name for name in inserts or ()) or "nothing"
        said = f"what is usual for {row.source}" if inserts is None else names
        note(session, by, "changed", f"Input {row.number} {row.label}: inserted is to be {said}."[:300])
        return replan(session.pk)


def _other_half(row: PlannedInput) -> list[str]:
    """“Piano L” has the other half “Piano R”."""
    for mine, other in ((" L", " R"), (" R", " L")):
        if row.label.endswith(mine):
            return [row.label.removesuffix(mine) + other]
    return []


def wished(row: PlannedInput) -> tuple[list[str], bool]:
    """The ids of what is wanted on the input, and whether somebody chose them."""
    chains = load_catalogue().chains
    labels = [row.label, *_other_half(row)]
    wish = ChainWish.objects.filter(session=row.plan.session_id, label__in=labels).order_by("at", "pk").last()
    if wish is not None:
        return [name for name in wish.inserts if name in chains.inserts], True
    ids = {wanted: name for name, wanted in chains.inserts.items()}
    return [ids[wanted] for wanted in usual(row.source)], False


def offered() -> list[tuple[str, InsertWish]]:
    return list(load_catalogue().chains.inserts.items())
