"""What a block of the board says. Pure apart from the session that it is asked about."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from bookings.board.layout import Block
from bookings.models import Session
from bookings.ranking import short_ordinal
from studio.models import Claim, Room
from studio.spans import Span


@dataclass(frozen=True, slots=True)
class Shown:
    """A block with its words. session is None where a closure or the like has taken the room."""

    block: Block
    title: str
    when: str
    around: str
    via: str
    state: str
    session: Session | None
    running: bool


@dataclass(frozen=True, slots=True)
class Words:
    """day is the one day on view, whose name goes without saying; None when several are."""

    tz: tzinfo
    now: datetime
    day: date | None
    sessions: Mapping[int, Session]
    session_type: int
    ranks: Mapping[int, int]

    def shown(self, block: Block, room: Room) -> Shown:
        kind, pk = block.origin
        session = self.sessions.get(pk) if kind == self.session_type else None
        running = self.now in block.span
        if session is None:
            purpose = Claim.Purpose(block.purpose).label
            return Shown(
                block, block.reason or purpose, self.span(block.span), "", "", purpose, None, running
            )
        return Shown(
            block,
            session.title,
            self.span(Span(session.downbeat, session.end)),
            self.around(session),
            "" if session.room_id == room.pk else f"for {session.room.name}",
            self.held(session),
            session,
            running,
        )

    def held(self, session: Session) -> str:
        """“1st hold”, with the deadline of one that is challenged; nothing for what is confirmed."""
        if not session.is_hold:
            return ""
        place = self.ranks.get(session.pk)
        words = f"{short_ordinal(place)} hold" if place else "hold"
        return f"{words}, answer by {self.at(session.answer_by)}" if session.answer_by else words

    def around(self, session: Session) -> str:
        """The times before and after: “setup from 08:10, load-in 09:20, clear at 20:00”."""
        said = [f"setup from {self.at(session.setup_at)}"] if session.setup_at < session.load_in else []
        said += [f"load-in {self.at(session.load_in)}"] if session.load_in < session.downbeat else []
        said += [f"clear at {self.at(session.clear_at)}"] if session.end < session.clear_at else []
        return ", ".join(said)

    def span(self, span: Span) -> str:
        if span.end is None:
            return f"from {self.at(span.start)}, end not known"
        end = self.at(span.end)
        same_day = span.start.astimezone(self.tz).date() == span.end.astimezone(self.tz).date()
        return f"{self.at(span.start)} to {f'{span.end.astimezone(self.tz):%H:%M}' if same_day else end}"

    def at(self, instant: datetime) -> str:
        """The hour, with the day's name when it isn't the day on view."""
        there = instant.astimezone(self.tz)
        return f"{there:%H:%M}" if there.date() == self.day else f"{there:%a %H:%M}"
