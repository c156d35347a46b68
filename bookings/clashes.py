"""Everything that is in the way of a draft: rooms, people, gear that is wanted, and what is no room to book."""

from __future__ import annotations

from bookings.drafts import Draft, wanted_claims
from bookings.models import Session
from bookings.wishes import wished_claims
from studio.claims import Clash, Conflict, Wanted, clashes_with
from studio.models import Claim


def clashes_of(draft: Draft, session: Session | None = None) -> list[Clash]:
    """Empty when it can be booked. `session` is the one that the draft changes."""
    wanted = [*wanted_claims(draft), *wished_claims(draft)]
    return [*shared_by_others(draft, session), *clashes_with(wanted, but_not=session)]


def shared_by_others(draft: Draft, session: Session | None = None) -> list[Clash]:
    """Rooms that are asked for by themselves though they only belong to others; what a session has it may keep."""
    rooms = [room for room in (draft.room, *draft.beside) if not room.bookable]
    had = {session.room_id, *(room.pk for room in session.beside.all())} if rooms and session else set()
    return [
        Clash(
            room.resource,
            Wanted(room.resource_id, draft.whole, Claim.Purpose.SESSION, draft.title),
            words=f"{room.name} is shared by other rooms and isn't booked by itself: book a room that it belongs to.",
        )
        for room in rooms
        if room.pk not in had
    ]


def require_rooms_of_their_own(draft: Draft, session: Session | None = None) -> None:
    """Raises Conflict for a shared thing that is asked for like a room."""
    if clashes := shared_by_others(draft, session):
        raise Conflict(clashes)
