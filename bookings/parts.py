"""Which rooms are made of which, read once for questions about many rooms."""

from __future__ import annotations

from collections.abc import Iterable

from studio.models import Room

Parts = dict[int, set[int]]  # of each room, the rooms it is directly made of


def all_parts() -> Parts:
    """One query."""
    found: Parts = {}
    for whole, part in Room.parts.through.objects.values_list("from_room_id", "to_room_id"):
        found.setdefault(whole, set()).add(part)
    return found


def with_parts(rooms: Iterable[int], parts: Parts) -> set[int]:
    """These rooms and everything they are made of."""
    found = set(rooms)
    open_rooms = list(found)
    while open_rooms:
        new = parts.get(open_rooms.pop(), set()) - found
        found |= new
        open_rooms += new
    return found


def wholes_of(parts: Parts) -> Parts:
    """Of each room, the rooms it is directly a part of."""
    found: Parts = {}
    for whole, made_of in parts.items():
        for part in made_of:
            found.setdefault(part, set()).add(whole)
    return found
