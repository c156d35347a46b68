"""What is in the way, and of each thing: through which shared part, whose it is, and since when it stands there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.contrib.contenttypes.models import ContentType

from bookings.clashes import clashes_of
from bookings.drafts import Draft
from bookings.models import Session
from bookings.parts import Parts, all_parts, with_parts
from bookings.words import clash_sentences
from studio.claims import Clash
from studio.clock import say
from studio.models import Resource, Room

Origin = tuple[int, int] | None


@dataclass(frozen=True, slots=True)
class Rooms:
    """Which rooms are made of which, and the numbers of the rooms that are met, by resource."""

    parts: Parts
    by_resource: dict[int, int]

    def owner(self, rooms: Sequence[Room], part: int) -> str:
        """The name of the first of these rooms that has the part."""
        owners = (room.name for room in rooms if part in with_parts([room.pk], self.parts))
        return next(owners, rooms[0].name)


def obstacles(draft: Draft, session: Session | None = None) -> list[str]:
    """A sentence for each thing in the way of this draft; empty when it can be booked."""
    return explained(clashes_of(draft, session), draft)


def explained(clashes: Iterable[Clash], draft: Draft) -> list[str]:
    """The clashes in sentences. Four queries more than clash_sentences, however many there are."""
    groups: dict[Origin, list[Clash]] = {}
    for clash in clashes:
        origin = (clash.claim.origin_type_id, clash.claim.origin_id) if clash.claim else None
        groups.setdefault(origin, []).append(clash)
    sessions = _sessions_of(groups)
    rooms = _rooms(groups.values()) if sessions else Rooms({}, {})
    said: list[str] = []
    for origin, group in groups.items():
        first, *others = clash_sentences(group, draft.room.site.tz)
        more = _more(sessions[origin], group, draft, rooms) if origin in sessions else []
        said += [" ".join([first, *more]), *others]
    return list(dict.fromkeys(said))


def _sessions_of(origins: Iterable[Origin]) -> dict[Origin, Session]:
    kind = ContentType.objects.get_for_model(Session).pk
    ids = [origin[1] for origin in origins if origin and origin[0] == kind]
    if not ids:
        return {}
    found = Session.objects.select_related("job__client", "room").prefetch_related("beside").in_bulk(ids)
    return {(kind, pk): session for pk, session in found.items()}


def _rooms(groups: Iterable[Sequence[Clash]]) -> Rooms:
    ids = {clash.resource.pk for group in groups for clash in group}
    return Rooms(all_parts(), dict(Room.objects.filter(resource__in=ids).values_list("resource_id", "pk")))


def _more(other: Session, group: Sequence[Clash], draft: Draft, rooms: Rooms) -> list[str]:
    since = say(other.made_at, draft.room.site.tz)
    house = other.job.client.is_house
    whose = "It is the house's own" if house else f"It is {other.job.client.name}'s"
    return [*_through(other, group, draft, rooms), f"{whose}, booked {since}."]


def _through(other: Session, group: Sequence[Clash], draft: Draft, rooms: Rooms) -> list[str]:
    """When only parts are met, which of the two sides' rooms they belong to."""
    met = [clash.resource for clash in group if clash.resource.kind == Resource.Kind.ROOM]
    taken = {resource.pk for resource in met}
    theirs, own = [other.room, *other.beside.all()], [draft.room, *draft.beside]
    is_theirs = taken & {room.resource_id for room in theirs}
    is_own = taken & {room.resource_id for room in own}
    if not met or is_theirs & is_own:
        return []
    name, part = met[0].name, rooms.by_resource[met[0].pk]
    if is_theirs:
        return [f"{name} is a part of {rooms.owner(own, part)}."]
    if is_own:
        return [f"{name} is a part of {rooms.owner(theirs, part)}, which is taken whole."]
    return [f"{rooms.owner(own, part)} and {rooms.owner(theirs, part)} share {name}."]
