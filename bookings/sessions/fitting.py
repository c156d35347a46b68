"""Which other rooms of the house would do for a session: people, lines, recorder inputs, what lives there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from bookings.drafts import Draft
from bookings.lists import Asked, asked_by
from bookings.models import SessionKind
from bookings.parts import all_parts, with_parts
from studio.claims import in_the_way
from studio.gear.queries import whole_units
from studio.gear.state import state_of
from studio.gear.words import pieces
from studio.models import GearModel, GearUnit, Room


@dataclass(frozen=True, slots=True)
class Fitting:
    """A room that would do: with its parts' resources, the rooms beside it, the kind there, and why it does."""

    room: Room
    resources: frozenset[int]
    beside: tuple[Room, ...]
    kind: SessionKind | None
    why: tuple[str, ...]


def fitting_rooms(draft: Draft) -> list[Fitting]:
    """A constant number of queries."""
    rooms = {room.pk: room for room in Room.objects.select_related("site")}
    parts = all_parts()
    asked = asked_by(draft.instrument_list)
    living = _living(draft, asked)
    kinds = _kinds_named(draft)
    own = with_parts([draft.room.pk], parts) | {room.pk for room in draft.beside}
    found = []
    for room in rooms.values():
        within = with_parts([room.pk], parts)
        if not room.bookable or room.pk in own or not _same_kind(draft, room, kinds):
            continue
        beside = tuple(other for other in draft.beside if other.pk not in within)
        if draft.beside and room.site_id != draft.room.site_id:
            continue
        why = _why_it_fits(room, within, asked, living, len(draft.crew))
        if why is not None:
            taken = within | with_parts([other.pk for other in beside], parts)
            resources = frozenset(rooms[pk].resource_id for pk in taken)
            found.append(Fitting(room, resources, beside, kinds.get(room.site_id), tuple(why)))
    return found


def _why_it_fits(
    room: Room, within: set[int], asked: Asked, living: Mapping[str, Sequence[GearUnit]], crew: int
) -> list[str] | None:
    """What speaks for it, or None when it is too small or lacks what the list names."""
    people = asked.players + crew
    if room.people and people > room.people:
        return None
    if asked.inputs > min(room.lines, room.recorder_inputs):
        return None
    why = [f"room for {room.people}" if room.people else "how many people fit isn't kept"] if people else []
    why += [f"{room.lines} lines and {room.recorder_inputs} recorder inputs for {asked.inputs}"] * bool(
        asked.inputs
    )
    for name, units in living.items():
        here = [unit for unit in units if unit.home_room_id in within]
        if not here:
            return None
        why.append(f"a {name} lives there ({here[0].tag}: {state_of(here[0]).words})")
    return why


def _living(draft: Draft, asked: Asked) -> dict[str, list[GearUnit]]:
    """For each instrument of the list that the house has somewhere: those that work then and are free.

    An instrument that the house has nowhere is the players' own and asks nothing of a room.
    """
    units = _instruments() if asked.instruments else []
    owned = {name: [unit for unit in units if _is_one(unit, name)] for name in asked.instruments}
    ids = [unit.resource_id for of_name in owned.values() for unit in of_name]
    taken = {claim.resource_id for claim in in_the_way(ids, draft.whole)} if ids else set()
    return {
        name: [u for u in of_name if u.resource_id not in taken and state_of(u, at=draft.load_in).usable]
        for name, of_name in owned.items()
        if of_name
    }


def _instruments() -> Iterable[GearUnit]:
    kind = GearModel.Kind.INSTRUMENT
    return list(whole_units().filter(gear_model__kind=kind, home_room__isnull=False, retired=False))


def _is_one(unit: GearUnit, name: str) -> bool:
    """By the words of its model, or as whoever reads lists reads them: a “concert grand” is a grand piano."""
    model = unit.gear_model
    read_as = " ".join(asked_by(model.name).instruments)
    return set(pieces(name)) <= set(pieces(f"{model.name} {model.remark} {unit.remark} {read_as}"))


def _kinds_named(draft: Draft) -> dict[int, SessionKind]:
    """The kind of the same name on each site's list."""
    if draft.kind is None:
        return {}
    return {
        kind.site_id: kind for kind in SessionKind.objects.filter(name__iexact=draft.kind.name, offered=True)
    }


def _same_kind(draft: Draft, room: Room, kinds: dict[int, SessionKind]) -> bool:
    return draft.kind is None or room.site_id in kinds
