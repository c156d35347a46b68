"""What an engineer, or the house, always wants for a source: kept in a few taps, read when a session is planned."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from django.db import transaction
from django.db.models import Max, Q, QuerySet
from django.utils import timezone

from bookings.models import Session
from studio.access import Act, require
from studio.models import GearModel, GearUnit, Person, Role
from tasks.catalogue import load_catalogue
from tasks.catalogue.sources import DI_KINDS, FAMILIES, MICROPHONE_KINDS
from tasks.models import Preference
from tasks.planning.costs import MOST_WANTED
from tasks.planning.snapshot import Liking, Need, Pickup

KINDS = (*MICROPHONE_KINDS, *DI_KINDS)
SPECS = (
    *("gear_model__microphone", "gear_model__direct_box"),
    *("unit__gear_model__microphone", "unit__gear_model__direct_box"),
)


class NotKept(ValueError):
    """It can't be kept so; the message says what to do."""


def of_person(person: Person | None) -> QuerySet[Preference]:
    """Somebody's own, or the house's; by source, in their order."""
    found = Preference.objects.filter(person=person).select_related(*SPECS)
    return found.order_by("source", "family", "never", "order", "pk")


def prefer(by: Person, owner: Person | None, source: str, wants: str, never: bool = False) -> Preference:
    """Always, or never, use this for a source or a family, both by name; wants: a kind, a unit's tag, or a model.

    Said again it moves to the end; the last one said of the same thing stands. Raises NotKept, PermissionDenied.
    """
    _may_keep(by, owner)
    where = _where(source)
    thing = _thing(wants)
    with transaction.atomic():
        mine = Preference.objects.filter(person=owner, **where)
        mine.filter(**thing).delete()
        if not never and mine.filter(never=False).count() >= MOST_WANTED:
            raise NotKept(f"{MOST_WANTED} in order are enough for {source}: take one away first.")
        order = (mine.aggregate(last=Max("order"))["last"] or 0) + 1
        return Preference.objects.create(
            person=owner, never=never, order=order, at=timezone.now(), **where, **thing
        )


def forget(by: Person, preference: Preference) -> None:
    _may_keep(by, preference.person)
    preference.delete()


def _may_keep(by: Person, owner: Person | None) -> None:
    """Their own: whoever changes input lists. The house's: whoever sets up the house."""
    require(by, Act.PLAN if owner == by else Act.SET_UP_HOUSE)


def _where(name: str) -> dict[str, str]:
    name = " ".join(name.split())
    said = name.casefold()
    if said in FAMILIES:  # what is called like one of its sources holds for that too
        return {"source": "", "family": said}
    for source in load_catalogue().sources:
        if said in (source.name.casefold(), source.short.casefold()):
            return {"source": source.id, "family": ""}
    raise NotKept(f"No source and no family is called “{name}”. Choose one of the list.")


def _thing(wants: str) -> dict[str, str | GearUnit | GearModel | None]:
    wants = " ".join(wants.split())
    nothing: dict[str, str | GearUnit | GearModel | None] = {"kind": "", "gear_model": None, "unit": None}
    if wants.casefold() in KINDS:
        return nothing | {"kind": wants.casefold()}
    planned = [GearModel.Kind.MICROPHONE, GearModel.Kind.DI]
    units = GearUnit.objects.filter(gear_model__kind__in=planned, retired=False)
    if unit := units.filter(tag__iexact=wants).first():
        return nothing | {"unit": unit}
    for model in GearModel.objects.filter(kind__in=planned):
        if str(model).casefold() == wants.casefold():
            return nothing | {"gear_model": model}
    raise NotKept(f"No kind, model or unit is called “{wants}”. Choose one of the list.")


def things() -> list[str]:
    """What can be preferred: kinds, then models, then units."""
    planned = [GearModel.Kind.MICROPHONE, GearModel.Kind.DI]
    models = sorted(str(model) for model in GearModel.objects.filter(kind__in=planned))
    units = GearUnit.objects.filter(gear_model__kind__in=planned, retired=False).order_by("tag")
    return [*KINDS, *models, *units.values_list("tag", flat=True)]


def name_of(preference: Preference) -> str:
    """The source's name, or the family's."""
    found = load_catalogue().by_id.get(preference.source)
    return found.name if found else preference.family or preference.source


# When a session is planned


def liked(session: Session, wanted: Iterable[Need]) -> list[Need]:
    """Each need with what the session's engineers prefer for it, and what the house does. Two queries."""
    engineers = list(
        session.crew.filter(role=Role.ENGINEER).order_by("pk").values_list("person_id", flat=True)
    )
    rows = list(
        Preference.objects.filter(Q(person=None) | Q(person__in=engineers))
        .select_related(*SPECS)
        .order_by("order", "pk")
    )
    if not rows:
        return list(wanted)
    place: dict[int | None, int] = {pk: number for number, pk in enumerate(engineers)}
    rows.sort(key=lambda row: (row.person_id is None, place.get(row.person_id, 0), not row.source))
    return [_liked(need, rows) for need in wanted]


def _liked(need: Need, rows: Sequence[Preference]) -> Need:
    source = load_catalogue().by_name.get(need.source)
    if source is None or need.pickup is Pickup.LINE:
        return need
    kinds = DI_KINDS if need.pickup is Pickup.DI else MICROPHONE_KINDS
    mine = [row for row in rows if row.kind_meant in kinds]
    mine = [row for row in mine if row.source == source.id or (row.family and row.family == source.family)]
    more = [row.kind_meant for row in mine if not row.never]
    return replace(
        need,
        kinds=tuple(dict.fromkeys((*need.kinds, *more))),
        own=_liking(row for row in mine if row.person_id is not None),
        house=_liking(row for row in mine if row.person_id is None),
    )


def _liking(rows: Iterable[Preference]) -> Liking:
    said = list(rows)
    wanted = dict.fromkeys(row.wants for row in said if not row.never)
    return Liking(tuple(wanted)[:MOST_WANTED], tuple(row.wants for row in said if row.never))
