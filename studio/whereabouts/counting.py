"""A count of a room by scanning: what is here, missing, extra, or should be elsewhere."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from urllib.parse import unquote, urlsplit

from django.db import transaction
from django.utils import timezone

from studio import faults
from studio.access import Act, require
from studio.gear.answers import unit_by_tag
from studio.models import Fault, GearUnit, Person, Room, Scanned, Stay, Stock, StockTake
from studio.signals import house_changed
from studio.whereabouts.moves import here
from studio.whereabouts.parts import missing_itself
from studio.whereabouts.where import place_of, units_in

A_LABEL = re.compile(r"\A/u/(?P<pk>\d{1,15})(/\d+)?/?\Z")
A_UNIT_PAGE = re.compile(r"\A/gear/(?P<tag>.+)\Z")


class CountRefused(ValueError):
    """The message is a sentence that says what to do."""


@dataclass(frozen=True, slots=True)
class Found:
    """One unit or label of a count, and what there is to say of it."""

    text: str
    unit: GearUnit | None
    words: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """missing: should be here and wasn't scanned; misplaced: has another place; extra: shouldn't be in the house."""

    here: list[Found] = field(default_factory=list)
    missing: list[Found] = field(default_factory=list)
    misplaced: list[Found] = field(default_factory=list)
    extra: list[Found] = field(default_factory=list)


def begin(by: Person, room: Room) -> StockTake:
    """A count of the room; one that is still open is gone on with."""
    require(by, Act.MOVE_GEAR)
    standing = room.stock_takes.filter(closed_at__isnull=True).first()
    return standing or StockTake.objects.create(room=room, begun_at=timezone.now(), begun_by=by)


def scan(by: Person, count: StockTake, text: str) -> Scanned:
    """A label read, a tag typed, or an address scanned. The same unit twice is one row."""
    require(by, Act.MOVE_GEAR)
    text = " ".join(text.split())[:200]
    if not text:
        raise CountRefused("Nothing was read. Scan the label again, or type the tag.")
    with transaction.atomic():
        count = StockTake.objects.select_for_update().get(pk=count.pk)
        if count.closed_at is not None:
            raise CountRefused("This count is closed. Begin a new one.")
        unit = unit_of(text)
        same = count.scanned.filter(unit=unit) if unit else count.scanned.filter(unit=None, text__iexact=text)
        now = timezone.now()
        return same.first() or Scanned.objects.create(stock_take=count, unit=unit, text=text, at=now, by=by)


def unit_of(text: str) -> GearUnit | None:
    """The unit of a label's address, of its page, of a tag, or of a serial that one unit alone has."""
    path = urlsplit(text).path if "://" in text else text
    if label := A_LABEL.match(path):
        return GearUnit.objects.filter(pk=int(label["pk"])).first()
    page = A_UNIT_PAGE.match(path)
    tag = unquote(page["tag"]) if page else text
    if unit := unit_by_tag(tag):
        return unit
    with_serial = list(GearUnit.objects.filter(serial__iexact=tag)[:2])
    return with_serial[0] if len(with_serial) == 1 else None


def outcome(count: StockTake) -> Outcome:
    """What the count shows, against where things are known to be. Five queries, however many things."""
    expected = {unit.pk: unit for unit in units_in(count.room)}
    rows = list(count.scanned.select_related("unit__site", "unit__home_room__site"))
    units = [row.unit for row in rows if row.unit]
    open_stays = Stay.objects.open().filter(unit__in=units).select_related("room__site")
    stays = {stay.unit_id: stay for stay in open_stays}
    said = Outcome()
    for row in rows:
        unit = row.unit
        if unit is None:
            said.extra.append(Found(row.text, None, "no unit has this label"))
        elif unit.pk in expected:
            said.here.append(Found(unit.tag, unit))
        else:
            _other(said, count.room, unit, stays.get(unit.pk))
    scanned = {unit.pk for unit in units}
    said.missing.extend(Found(u.tag, u, u.storage) for pk, u in expected.items() if pk not in scanned)
    return said


def _other(said: Outcome, room: Room, unit: GearUnit, stay: Stay | None) -> None:
    """Scanned where it wasn't expected."""
    if unit.retired:
        said.extra.append(Found(unit.tag, unit, "retired, and still here"))
    elif stay and stay.kind != Stay.Kind.ROOM:
        said.extra.append(Found(unit.tag, unit, f"thought to be {place_of(stay)}"))
    elif unit.home_room is None and stay is None:
        said.here.append(Found(unit.tag, unit, "has no room of its own"))
    else:
        place = place_of(stay) if stay else unit.where
        said.misplaced.append(Found(unit.tag, unit, f"belongs in {place}"))


def close(by: Person, count: StockTake, lost: Iterable[int] = (), stay: Iterable[int] = ()) -> Outcome:
    """Close a count: of what is missing, `lost` is reported so; of what is elsewhere or extra, `stay` is here now.

    Both are numbers of units; whatever the count doesn't show is passed over. Found again is what was missed.
    """
    require(by, Act.MOVE_GEAR)
    with transaction.atomic():
        count = (
            StockTake.objects.select_for_update(of=("self",)).select_related("room__site").get(pk=count.pk)
        )
        if count.closed_at is not None:
            raise CountRefused("This count is closed already; nothing was changed.")
        said = outcome(count)
        if not count.scanned.exists():
            raise CountRefused("Nothing has been scanned in this room yet. Scan first, then close the count.")
        report_missing(
            by, [one.unit for one in said.missing if one.unit and one.unit.pk in set(lost)], count.room
        )
        for one in said.here:
            _was_missed(by, one, count.room)
        for one in [*said.misplaced, *said.extra]:
            if one.unit and one.unit.pk in set(stay):
                here(by, one.unit, count.room)
        count.closed_at = timezone.now()
        count.save(update_fields=["closed_at"])
    return said


def report_missing(by: Person, units: Iterable[GearUnit], room: Room) -> list[Fault]:
    """Each is out of use until somebody has it again; what is missed already isn't reported twice."""
    return [
        faults.report_fault(by, unit, None, Fault.Effect.MISSING, words=f"not found when {room} was counted")
        for unit in units
        if not missing_itself(unit)
    ]


def _was_missed(by: Person, one: Found, room: Room) -> None:
    for fault in missing_itself(one.unit) if one.unit else []:
        faults.found(by, fault, f"found in {room}")


def lose(by: Person, stock: Stock, number: int) -> Stock:
    """So many fewer of a counted stock: what counted on them is planned anew."""
    require(by, Act.MOVE_GEAR)
    with transaction.atomic():
        stock = Stock.objects.select_for_update(of=("self",)).get(pk=stock.pk)
        if not 0 < number <= stock.count:
            raise CountRefused(f"There are {stock.count} of {stock}: at most those can be missing.")
        stock.count -= number
        stock.save(update_fields=["count"])
        house_changed.send(Stock, thing=stock)
    return stock
