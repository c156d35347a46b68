"""What a block of the board says. Pure apart from the session that it is asked about."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from bookings.board.layout import Block
from bookings.models import Crew, Session, SessionKind
from bookings.ranking import short_ordinal
from studio.clock import say_day
from studio.models import Claim
from studio.spans import Span

NATURES = {SessionKind.Nature.UPKEEP: "upkeep", SessionKind.Nature.CLOSURE: "closed"}
ANSWERS = {
    Crew.Answer.ACCEPTED: "accepted",
    Crew.Answer.TENTATIVE: "perhaps",
    Crew.Answer.DECLINED: "declined",
    Crew.Answer.NONE: "not answered",
}
PIECES = {"spare": "spare", "stays": "stays set"}  # beside what the patterns of every day say
ROOM_FOR_A_WORD = 6.0


@dataclass(frozen=True, slots=True)
class Answered:
    """What somebody on a session has said to the invitation."""

    resource_id: int
    answer: str
    assigned: bool


@dataclass(frozen=True, slots=True)
class Shown:
    """A block with its words. session is None where leave, a repair or the like has taken it.

    mark: of the answers in short, where their words have no room: full, half or crossed.
    """

    block: Block
    title: str
    when: str
    around: str = ""
    via: str = ""
    state: str = ""
    answers: str = ""
    mark: str = ""
    session: Session | None = None
    running: bool = False
    movable: bool = False

    @property
    def named(self) -> str:
        return f"{self.state}: {self.title}" if self.state else self.title

    @property
    def after(self) -> str:
        """What follows the hours: “, with Loft, no. 12, 2 accepted”."""
        number = f"no. {self.session.pk}" if self.session else ""
        return "".join(f", {words}" for words in (self.via, number, self.answers) if words)

    @property
    def whole(self) -> str:
        """Everything in one sentence, for a pointer that rests on it."""
        around = f", {self.around}" if self.around else ""
        return f"{self.named}, {self.when}{self.after}{around}"

    @property
    def times(self) -> str:
        return seconds_of(self.session) if self.session else ""

    @property
    def piece_words(self) -> list[tuple[str, float]]:
        """What stands inside the bar, where there is room for it: the word and its left."""
        wide = [p for p in self.block.pieces if p.width * self.block.width / 100 >= ROOM_FOR_A_WORD]
        return [
            (PIECES.get(piece.pattern, piece.pattern), piece.left) for piece in wide if piece.pattern in SAID
        ]


SAID = {"setup", "spare", "stays", "turnaround"}


@dataclass(frozen=True, slots=True)
class Words:
    """day is the one day on view, whose name goes without saying; None when several are.

    near: the first and last of the days that are told by their weekday alone. crew: by session, who is on it.
    """

    tz: tzinfo
    now: datetime
    day: date | None
    near: tuple[date, date]
    session_type: int
    sessions: Mapping[int, Session]
    ranks: Mapping[int, int]
    crew: Mapping[int, list[Answered]]

    def session_of(self, block: Block) -> Session | None:
        kind, pk = block.origin
        return self.sessions.get(pk) if kind == self.session_type else None

    def on_room(self, block: Block, via: str, movable: bool) -> Shown:
        """Of a session: the agreed times, not those in which the room is taken."""
        session = self.session_of(block)
        if session is None:
            return self.other(block)
        return Shown(
            block,
            session.title,
            self.span(Span(session.downbeat, session.end)),
            self.around(session),
            via,
            self.state(session),
            self.answers(session),
            self.mark(session),
            session,
            self.now in block.span,
            movable,
        )

    def on_person(self, block: Block, sees_why: bool) -> Shown:
        """Their own hours and their own answer; why somebody is away is for those who book."""
        session = self.session_of(block)
        if session is None:
            return self.other(block, block.reason if sees_why else "")
        own = [one for one in self.crew.get(session.pk, ()) if one.resource_id == block.row]
        state = self.state(session) or ("" if all(one.assigned for one in own) else "wanted")
        asked = not session.is_hold and self.matters(session)
        said = [ANSWERS[Crew.Answer(one.answer)] for one in own if one.assigned and asked]
        return Shown(
            block,
            session.title,
            self.span(block.span),
            via=session.room.name,
            state=state,
            answers=", ".join(said),
            mark=mark_of(one.answer for one in own if one.assigned and asked),
            session=session,
            running=self.now in block.span,
        )

    def on_gear(self, block: Block, via: str) -> Shown:
        session = self.session_of(block)
        if session is None:
            shown = self.other(block)
            return Shown(block, shown.title, shown.when, via=via, state=shown.state, running=shown.running)
        return Shown(
            block,
            session.title,
            self.span(block.span),
            via=", ".join(filter(None, [via, session.room.name])),
            state="hold" if session.is_hold else "",
            answers=self.answers(session),
            mark=self.mark(session),
            session=session,
            running=self.now in block.span,
        )

    def other(self, block: Block, reason: str | None = None) -> Shown:
        """Leave, a repair, hours elsewhere, a closure: what it is stands before the reason."""
        purpose = Claim.Purpose(block.purpose).label
        why = block.reason if reason is None else reason
        state = purpose if why and why != purpose else ""
        return Shown(
            block, why or purpose, self.span(block.span), state=state, running=self.now in block.span
        )

    def state(self, session: Session) -> str:
        """“1st hold”, with the deadline of one that is challenged; “closed”; nothing for a confirmed session."""
        if not session.is_hold:
            return "" if session.kind is None else NATURES.get(SessionKind.Nature(session.kind.nature), "")
        place = self.ranks.get(session.pk)
        words = f"{short_ordinal(place)} hold" if place else "hold"
        return f"{words}, answer by {self.at(session.answer_by)}" if session.answer_by else words

    def matters(self, session: Session) -> bool:
        """Whether it still matters who has said yes."""
        return session.clear_at > self.now

    def answers(self, session: Session) -> str:
        """Like “2 accepted, 1 not answered”; nothing for a hold, or when it is over."""
        return count_answers(self.asked(session))

    def mark(self, session: Session) -> str:
        return mark_of(self.asked(session))

    def asked(self, session: Session) -> list[str]:
        """What those said who have been asked: nobody for a hold, or when it is over."""
        if session.is_hold or not self.matters(session):
            return []
        return [one.answer for one in self.crew.get(session.pk, ()) if one.assigned]

    def around(self, session: Session) -> str:
        """The times before and after: “setup from 08:10, load-in 09:20, clear at 20:00”."""
        said = [f"setup from {self.at(session.setup_at)}"] if session.setup_at < session.load_in else []
        said += [f"load-in {self.at(session.load_in)}"] if session.load_in < session.downbeat else []
        if session.day_from and session.day_to:
            said += [f"worked {session.day_from:%H:%M} to {session.day_to:%H:%M} each day, stays set between"]
        said += [f"spare time until {self.at(session.spare_until)}"] if session.spare_until else []
        said += [f"clear at {self.at(session.clear_at)}"] if session.last < session.clear_at else []
        return ", ".join(said)

    def span(self, span: Span) -> str:
        if span.end is None:
            return f"from {self.at(span.start)}, end not known"
        end = self.at(span.end)
        same_day = span.start.astimezone(self.tz).date() == span.end.astimezone(self.tz).date()
        return f"{self.at(span.start)} to {f'{span.end.astimezone(self.tz):%H:%M}' if same_day else end}"

    def at(self, instant: datetime) -> str:
        """The hour, with the day's name when it isn't the day on view, and its date when it is far off."""
        there = instant.astimezone(self.tz)
        if there.date() == self.day:
            return f"{there:%H:%M}"
        first, last = self.near
        return (
            f"{there:%a %H:%M}" if first <= there.date() <= last else f"{say_day(there.date())} {there:%H:%M}"
        )


def seconds_of(session: Session) -> str:
    """Setup, load-in, downbeat, end and clear in seconds since 1970, for board.js."""
    times = (session.setup_at, session.load_in, session.downbeat, session.end, session.clear_at)
    return " ".join(str(int(moment.timestamp())) for moment in times)


def mark_of(answers: Iterable[str]) -> str:
    """crossed once somebody has declined, full when all have accepted, else half; nothing when nobody is asked."""
    said = set(answers)
    if Crew.Answer.DECLINED in said:
        return "crossed"
    return ("full" if said == {Crew.Answer.ACCEPTED} else "half") if said else ""


def count_answers(answers: Iterable[str]) -> str:
    """Like “2 accepted, 1 declined, 1 not answered”."""
    counted = Counter(answers)
    return ", ".join(f"{counted[answer]} {words}" for answer, words in ANSWERS.items() if counted[answer])
