"""Moving a session on the board: what is in the way, what it does to others, and how it is taken back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta

from django.utils import timezone

from bookings.board.shifts import Shift, Times, clock_sentence, shifted
from bookings.booking import change, what_is_in_the_way
from bookings.drafts import Draft, as_draft
from bookings.ladder import new_pieces, standing_on
from bookings.models import Crew, Session
from bookings.people import warnings_for
from bookings.saying import hold_sentences
from bookings.sessions.dayfields import LONGEST, LONGEST_LOCKOUT
from studio.clock import say_length, say_span
from studio.models import Person, Room
from studio.spans import Span


@dataclass(frozen=True, slots=True)
class Move:
    """A session as it was seen (version and times), and where it is to go."""

    session: Session
    version: int
    seen: Times
    shift: Shift
    room: Room
    which: str = ""

    def times(self) -> Times:
        """Raises NoSuchTime and ComesTwice."""
        return shifted(self.seen, self.shift, self.room.site.tz, self.which)


@dataclass(frozen=True, slots=True)
class Answer:
    """where: in words. in_the_way and holds stop it; agree: what has to be agreed to; cautions: good to know."""

    where: str
    in_the_way: Sequence[str] = ()
    holds: Sequence[str] = ()
    agree: Sequence[str] = ()
    cautions: Sequence[str] = field(default=())

    @property
    def clear(self) -> bool:
        return not (self.in_the_way or self.holds)


def where(room: Room, times: Times) -> str:
    """Like “Weaving Hall, Thu 4 March, 10:00 to 19:00”: the agreed times."""
    if times.downbeat >= times.end:
        return room.name
    return f"{room.name}, {say_span(Span(times.downbeat, times.end), room.site.tz)}"


def times_of(session: Session) -> Times:
    return Times(session.load_in, session.downbeat, session.end)


def answer(move: Move, times: Times) -> Answer:
    """What would happen. Saves nothing."""
    session, said = move.session, where(move.room, times)
    if wrong := impossible(move, times):
        return Answer(said, wrong)
    draft = draft_of(move, times)
    pieces = new_pieces(session, draft)
    holds = standing_on(pieces, timezone.now(), session) if draft.firm else []
    return Answer(
        said,
        what_is_in_the_way(draft, session),
        hold_sentences(holds, move.room.site.tz, draft.whole),
        [ASKS_ANEW] if session.is_hold and pieces else [],
        cautions(move, draft, times),
    )


ASKS_ANEW = "This hold asks anew for other hours or another room: it loses its place in line."


def impossible(move: Move, times: Times) -> list[str]:
    """What no house can do, whatever is booked."""
    room, session = move.room, move.session
    length = times.end - times.load_in
    said = []
    if times.end <= times.downbeat:
        said.append("It would end before it starts. Make it longer.")
    longest = LONGEST if session.is_work and not session.is_lockout else LONGEST_LOCKOUT
    if length > longest and length > session.end - session.load_in:
        said.append(
            f"That is {say_length(length)} long, and one booking holds {say_length(longest)} at most."
        )
    if room.site_id != session.room.site_id:
        said.append(f"{room.name} is at another site. Change the room on the form.")
    if not room.bookable and room.pk != session.room_id:
        said.append(f"{room.name} can't be booked by itself.")
    if room in session.beside.all():
        said.append(f"{room.name} is taken beside it already. Change its rooms on the form.")
    return said


def draft_of(move: Move, times: Times) -> Draft:
    return as_draft(move.session).moved(times.load_in, times.downbeat, times.end, move.room)


def cautions(move: Move, draft: Draft, times: Times) -> list[str]:
    session = move.session
    said = [clock_sentence(replace(move.seen, end=move.seen.end + stretch_of(move.shift)), times)]
    answered = [crew for crew in session.crew.all() if crew.answer != Crew.Answer.NONE]
    if answered and (move.room.pk != session.room_id or times != times_of(session)):
        said.append("Whoever has answered is asked again.")
    if session.series_id:
        said.append("Only this one of the series moves.")
    return [*filter(None, said), *warnings_for(draft, session)]


def stretch_of(shift: Shift) -> timedelta:
    return timedelta(days=shift.end_days, minutes=shift.end_minutes)


def move_session(by: Person, move: Move, times: Times) -> Session:
    """Raises Stale, Conflict, PastHolds, PermissionDenied; then nothing has changed."""
    return change(by, move.session.pk, move.version, draft_of(move, times))
