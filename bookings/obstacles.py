"""What is in the way, and of each thing: through which shared part, whose it is, and since when it stands there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.contrib.contenttypes.models import ContentType

from bookings.drafts import Draft, wanted_claims
from bookings.models import Session
from bookings.words import clash_sentences
from studio.claims import Clash, clashes_with
from studio.clock import say
from studio.models import Resource, Room

Origin = tuple[int, int] | None


def obstacles(draft: Draft, session: Session | None = None) -> list[str]:
    """A sentence for each thing in the way of this draft; empty when it can be booked."""
    return explained(clashes_with(wanted_claims(draft), but_not=session), draft)


def explained(clashes: Iterable[Clash], draft: Draft) -> list[str]:
    """The clashes in sentences. Two queries more than clash_sentences, however many there are."""
    groups: dict[Origin, list[Clash]] = {}
    for clash in clashes:
        origin = (clash.claim.origin_type_id, clash.claim.origin_id) if clash.claim else None
        groups.setdefault(origin, []).append(clash)
    sessions = _sessions_of(groups)
    said: list[str] = []
    for origin, group in groups.items():
        first, *others = clash_sentences(group, draft.room.site.tz)
        more = _more(sessions[origin], group, draft) if origin in sessions else []
        said += [" ".join([first, *more]), *others]
    return list(dict.fromkeys(said))


def _sessions_of(origins: Iterable[Origin]) -> dict[Origin, Session]:
    kind = ContentType.objects.get_for_model(Session).pk
    ids = [origin[1] for origin in origins if origin and origin[0] == kind]
    if not ids:
        return {}
    found = Session.objects.select_related("job__client", "room").prefetch_related("beside").in_bulk(ids)
    return {(kind, pk): session for pk, session in found.items()}


def _more(other: Session, group: Sequence[Clash], draft: Draft) -> list[str]:
    since = say(other.made_at, draft.room.site.tz)
    whose = other.job.client.name
    named = "It is the house's own" if other.job.client.is_house else f"It is {whose}'s"
    return [*_through(other, group, draft), f"{named}, booked {since}."]


def _through(other: Session, group: Sequence[Clash], draft: Draft) -> list[str]:
    """When only parts are met, which of the two sides' rooms they belong to."""
    taken = {clash.resource.pk for clash in group if clash.resource.kind == Resource.Kind.ROOM}
    theirs = {room.resource_id: room for room in (other.room, *other.beside.all())}
    own = {room.resource_id: room for room in (draft.room, *draft.beside)}
    if not taken or taken & theirs.keys() & own.keys():
        return []
    part = next(clash.resource.name for clash in group if clash.resource.pk in taken)
    if taken & theirs.keys():
        return [f"{part} is a part of {_owner(own.values(), taken)}."]
    if taken & own.keys():
        return [f"{part} is a part of {_owner(theirs.values(), taken)}, which is taken whole."]
    mine, its = _owner(own.values(), taken), _owner(theirs.values(), taken)
    return [f"{mine} and {its} share {part}."]


def _owner(rooms: Iterable[Room], taken: set[int]) -> str:
    """The first of these rooms that has one of the parts."""
    whole = list(rooms)
    owners = (room for room in whole if taken & {part.resource_id for part in room.with_parts()})
    return next(owners, whole[0]).name
