"""The rooms of a site on the board: what takes each, through which other room, and what rooms share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.urls import reverse
from django.utils.http import urlencode

from bookings.board.asked import Asked
from bookings.board.layout import Block, Origin
from bookings.board.rows import Board, Row, across, whole_window
from bookings.board.taken import claims_in, taken_by, words_for
from bookings.board.words import Shown, Words
from bookings.models import Session
from studio.models import Room


def rooms_board(asked: Asked, now: datetime) -> Board:
    claims = claims_in(whole_window(asked)).filter(resource__room__site=asked.site)
    taken = list(taken_by(claims))
    time = across(asked, taken, now)
    of_site = rooms_of(asked)
    blocks = time.blocks(taken)
    on_view = OnView(of_site, blocks, words_for(asked, claims, now), rooms_by_origin(of_site, blocks))
    return time.board([on_view.row(room, asked) for room in of_site.in_order()])


@dataclass(frozen=True, slots=True)
class Rooms:
    """A site's rooms, and of which each is made."""

    rooms: Mapping[int, Room]
    parts: Mapping[int, Sequence[int]]

    def in_order(self) -> list[Room]:
        """What can't be booked by itself comes after the rooms that do."""
        return sorted(self.rooms.values(), key=lambda room: not room.bookable)

    def made_of(self, room_id: int) -> list[Room]:
        return [self.rooms[pk] for pk in self.parts.get(room_id, ()) if pk in self.rooms]

    def part_of(self, room_id: int) -> list[Room]:
        return [room for pk, room in self.rooms.items() if room_id in self.parts.get(pk, ())]

    def with_parts(self, room_id: int) -> set[int]:
        """The room and everything it is made of, however deep."""
        found, ahead = {room_id}, [room_id]
        while ahead:
            new = set(self.parts.get(ahead.pop(), ())) - found
            found |= new
            ahead += new
        return found

    def remark(self, room: Room) -> str:
        """What it is made of or part of, else the house's own remark."""
        parts = ", ".join(part.name for part in self.made_of(room.pk))
        wholes = ", ".join(whole.name for whole in self.part_of(room.pk))
        said = [f"takes {parts}"] * bool(parts)
        said += [f"{'part of' if room.bookable else 'shared by'} {wholes}"] * bool(wholes)
        return "; ".join(said) or room.remark


def rooms_of(asked: Asked) -> Rooms:
    """Two queries."""
    rooms = {room.pk: room for room in Room.objects.filter(site=asked.site)}
    parts: dict[int, list[int]] = {}
    pairs = Room.parts.through.objects.filter(from_room__site=asked.site).order_by(
        "to_room__order", "to_room"
    )
    for whole, part in pairs.values_list("from_room_id", "to_room_id"):
        parts.setdefault(whole, []).append(part)
    return Rooms(rooms, parts)


def rooms_by_origin(of_site: Rooms, blocks: Mapping[int, Sequence[Block]]) -> dict[Origin, list[Room]]:
    """Every room that somebody has taken, with whatever part of it is on view."""
    found: dict[Origin, list[Room]] = {}
    for room in of_site.in_order():
        for origin in dict.fromkeys(block.origin for block in blocks.get(room.resource_id, ())):
            found.setdefault(origin, []).append(room)
    return found


@dataclass(frozen=True, slots=True)
class OnView:
    rooms: Rooms
    blocks: Mapping[int, Sequence[Block]]
    words: Words
    taken: Mapping[Origin, Sequence[Room]]

    def row(self, room: Room, asked: Asked) -> Row:
        taken = [part.name for part in self.rooms.made_of(room.pk) if self.blocks.get(part.resource_id)]
        query = urlencode({"room": str(room.pk), "day": asked.day.isoformat()})
        return Row(
            room.name,
            self.rooms.remark(room),
            [self.shown(block, room) for block in self.blocks.get(room.resource_id, ())],
            f"free but for {', '.join(taken)}" if taken else "free",
            book=f"{reverse('bookings:new_session')}?{query}" if room.bookable else "",
            room_id=room.pk if room.bookable else 0,
            shared=not room.bookable,
        )

    def shown(self, block: Block, room: Room) -> Shown:
        session = self.words.session_of(block)
        own = session is not None and session.room_id == room.pk
        return self.words.on_room(block, self.via(session, room) if session else "", movable=own)

    def via(self, session: Session, room: Room) -> str:
        """On its own row: the rooms beside it. On another one's: for which room it is taken."""
        beside = self.beside(session)
        if session.room_id == room.pk:
            return f"with {', '.join(each.name for each in beside)}" if beside else ""
        return f"{'with' if room in beside else 'for'} {session.room.name}"

    def beside(self, session: Session) -> list[Room]:
        """Rooms it has taken that are no part of its own nor of each other: no query, the claims say it."""
        own = self.rooms.with_parts(session.room_id)
        taken = self.taken.get((self.words.session_type, session.pk), ())
        others = [room for room in taken if room.pk not in own]
        inside = {pk for room in others for pk in self.rooms.with_parts(room.pk) - {room.pk}}
        return [room for room in others if room.pk not in inside]
