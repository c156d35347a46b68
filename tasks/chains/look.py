"""What could be inserted in a session: the house's equalisers, compressors and limiters at that span, as records."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from bookings.models import Session
from studio.models import GearModel, GearUnit, Room
from studio.models.gear import Channel
from studio.models.specs import figures
from studio.spans import Span
from tasks.planning.chain_records import InsertChannel, InsertUnit
from tasks.planning.snapshot import Missing
from tasks.snapshots import State, last_choice_of, lent, limits_of, place_of, state_of, why_out

KINDS = [GearModel.Kind.EQUALISER, GearModel.Kind.COMPRESSOR, GearModel.Kind.LIMITER]


@dataclass(frozen=True, slots=True)
class Racks:
    """What may be used, what is out or taken, what belongs to other rooms; the rows behind tags and channels."""

    units: tuple[InsertUnit, ...]
    missing: tuple[Missing, ...]
    elsewhere: tuple[InsertUnit, ...]
    rows: dict[str, GearUnit]
    channels: dict[tuple[str, int], Channel]


def look_at_racks(room: Room, span: Span, session: Session | None = None) -> Racks:
    """Leaves out what the session itself has taken. Constant in queries."""
    rooms = frozenset(part.pk for part in room.with_parts())
    rows = list(_rows(room))
    state = state_of(room, rooms, rows, span, session)
    missing: list[Missing] = []
    found = [unit for row in rows if (unit := _unit(row, state, missing))]
    by_tag = {row.tag: row for row in rows}
    units = [unit for unit in found if unit.here or by_tag[unit.tag].home_room_id in {None, *rooms}]
    elsewhere = [unit for unit in found if unit not in units]
    channels = {(row.tag, channel.number): channel for row in rows for channel in row.channels.all()}
    return Racks(tuple(units), tuple(missing), tuple(elsewhere), by_tag, channels)


def _rows(room: Room) -> Iterable[GearUnit]:
    """Those of the whole site. In reach is what belongs to the room, stands in it or belongs to no room."""
    found = GearUnit.objects.filter(site=room.site, retired=False, gear_model__kind__in=KINDS)
    specs = ("gear_model__dynamics", "gear_model__equaliser", "gear_model__mains", "home_room", "site")
    return found.select_related(*specs).prefetch_related("channels", "stays").order_by("tag", "pk")


def _unit(row: GearUnit, state: State, missing: list[Missing]) -> InsertUnit | None:
    """A unit whose channels nobody has told of is used whole, as channel 1."""
    model = row.gear_model
    of_unit = state.of_unit[row.pk]
    if why := lent(row, state) or why_out(row.resource_id, of_unit, state):
        missing.append(Missing(row.tag, model.kind, why))
        return None
    channels = [
        usable for channel in row.channels.all() if (usable := _channel(row, channel, state, missing))
    ]
    if not row.channels.all():
        channels = [InsertChannel(1, limits_of(of_unit), last_choice_of(of_unit))]
    dynamics, equaliser = getattr(model, "dynamics", None), getattr(model, "equaliser", None)
    return InsertUnit(
        tag=row.tag,
        model=str(model),
        kind=model.kind,
        channels=tuple(channels),
        threshold=dynamics.threshold if dynamics else "",
        ratios=tuple(figures(dynamics.ratios)) if dynamics else (),
        attack_ms=tuple(figures(dynamics.attack_ms)) if dynamics else (),
        release_ms=tuple(figures(dynamics.release_ms)) if dynamics else (),
        automatic=bool(dynamics and dynamics.automatic),
        bands=(equaliser.bands or 0) if equaliser else 0,
        linked=bool(getattr(dynamics or equaliser, "stereo_link", False)),
        valves=bool(hasattr(model, "mains") and model.mains.valves),
        here=place_of(row, state) in state.rooms,
        value=int(row.value or 0),
        kept=row.home_room.name if row.home_room else "",
    )


def _channel(row: GearUnit, channel: Channel, state: State, missing: list[Missing]) -> InsertChannel | None:
    faults = state.of_unit[row.pk] + state.of_channel[channel.pk]
    if why := why_out(channel.resource_id, faults, state):
        missing.append(Missing(str(channel), row.gear_model.kind, why))
        return None
    return InsertChannel(channel.number, limits_of(faults), last_choice_of(faults))
