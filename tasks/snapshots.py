"""What a session may be planned from: the house at that span, as the planner's frozen records."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.db.models import Q
from django.utils import timezone

from bookings.models import Session
from studio.claims import counts_free, in_the_way
from studio.clock import say
from studio.electrics import ONE_PASCAL_DB_SPL, gain_db, microphone_dbu
from studio.gear.state import effect_in_words, stay_at
from studio.models import Claim, Fault, GearModel, GearUnit, Move, Room, Stay, Stock
from studio.models.claims import Origins
from studio.models.gear import Channel
from studio.spans import Span
from tasks.patterns import patterns_in
from tasks.planning.carrying import is_microphone_cable
from tasks.planning.rules import may_serve
from tasks.planning.snapshot import (
    CableKind,
    Missing,
    Need,
    Phantom,
    Pickup,
    PickupUnit,
    PreampChannel,
    PreampUnit,
    Snapshot,
    StandFigures,
    Switching,
)

DOUBTFUL = {Fault.Effect.DEAD, Fault.Effect.CRACKLES, Fault.Effect.MISSING, Fault.Effect.OTHER}
PLANNED_KINDS = [GearModel.Kind.MICROPHONE, GearModel.Kind.DI, GearModel.Kind.PREAMP]


@dataclass(frozen=True, slots=True)
class Looked:
    """One look at the house: the snapshot, and the rows behind its names."""

    snapshot: Snapshot
    units: dict[str, GearUnit]
    channels: dict[tuple[str, int], Channel]
    stock: dict[str, Stock]


@dataclass(frozen=True, slots=True)
class State:
    """What stands in the way of each resource, and what is wrong with each unit and channel."""

    room: Room
    rooms: frozenset[int]
    span: Span
    taken: dict[int, Claim]
    of_unit: dict[int, list[Fault]]
    of_channel: dict[int, list[Fault]]


def look(
    room: Room,
    span: Span,
    needs: Iterable[Need],
    session: Session | None = None,
    runs_m: Mapping[int, float] | None = None,
    besides: Iterable[Session] = (),
) -> Looked:
    """The room's site at that span, leaving out what the session itself has taken. Constant in queries.

    runs_m: metres of cable by the number of the input, slack included, where they are known better than the room's.
    besides: other sessions whose claims are left out too.
    """
    rooms = frozenset(part.pk for part in room.with_parts())
    units = list(_units(room, rooms, span))
    stands, cables = _counted(room)
    stock = stands | cables
    but_not = [*([session] if session else []), *besides]
    state = state_of(room, rooms, units, span, but_not)
    free = counts_free([each.resource_id for each in stock.values()], span, but_not)
    missing: list[Missing] = []
    pickups = _asked(filter(None, [_pickup(unit, state, missing) for unit in units]), session)
    preamps = [_preamp(unit, state, missing) for unit in units]
    snapshot = Snapshot(
        needs=tuple(_wanting(_with_run(need, room, runs_m or {}), pickups) for need in needs),
        pickups=pickups,
        preamps=tuple(filter(None, preamps)),
        stands={name: free[each.resource_id] for name, each in stands.items()},
        lines=room.lines,
        recorder_inputs=room.recorder_inputs,
        missing=tuple(missing),
        stand_figures={name: _stand_figures(each) for name, each in stands.items()},
        cables=tuple(_cable(each, free[each.resource_id]) for each in cables.values()) if cables else None,
        patch_points=room.patch_points,
        mains_outlets=room.mains_outlets,
    )
    channels = {(unit.tag, channel.number): channel for unit in units for channel in unit.channels.all()}
    return Looked(snapshot, {unit.tag: unit for unit in units}, channels, stock)


def _asked(pickups: Iterable[PickupUnit], session: Session | None) -> tuple[PickupUnit, ...]:
    """Each knows whether the session asked for it by its tag."""
    tags = set(session.wanted_units.values_list("tag", flat=True)) if session else set()
    return tuple(replace(unit, asked=unit.tag in tags) for unit in pickups)


def _wanting(need: Need, pickups: Sequence[PickupUnit]) -> Need:
    return replace(need, asked=any(unit.asked and may_serve(need, unit) for unit in pickups))


def _counted(room: Room) -> tuple[dict[str, Stock], dict[str, Stock]]:
    """Stands and microphone cables of the site, by name."""
    kinds = [Stock.Kind.STAND, Stock.Kind.CABLE]
    found = list(Stock.objects.filter(site=room.site, kind__in=kinds).select_related("stand", "cable"))
    stands = {stock.name: stock for stock in found if stock.kind == Stock.Kind.STAND}
    cables = {stock.name: stock for stock in found if stock.kind == Stock.Kind.CABLE}
    return stands, {name: stock for name, stock in cables.items() if is_microphone_cable(name, _ends(stock))}


def _ends(stock: Stock) -> str:
    return stock.cable.ends if hasattr(stock, "cable") else ""


def _stand_figures(stock: Stock) -> StandFigures:
    if not hasattr(stock, "stand"):
        return StandFigures()
    return StandFigures(stock.stand.load_kg, stock.stand.reach_m)


def _cable(stock: Stock, free: int) -> CableKind:
    return CableKind(stock.name, max(0, free), stock.cable.length_m if hasattr(stock, "cable") else None)


def _with_run(need: Need, room: Room, runs_m: Mapping[int, float]) -> Need:
    metres = runs_m.get(need.number, room.cable_run_m)
    return need if metres is None or need.pickup is Pickup.LINE else replace(need, cable_m=metres)


def _units(room: Room, rooms: frozenset[int], span: Span) -> Iterable[GearUnit]:
    """Microphones and DI boxes of the whole site; preamps that belong to the room, stand in it or can be carried in.

    What is to leave for another site before the span ends is left out."""
    reach = ~Q(gear_model__kind=GearModel.Kind.PREAMP) | Q(home_room__isnull=True) | Q(home_room__in=rooms)
    reach |= Q(pk__in=Stay.objects.open().filter(room__in=rooms).values("unit"))
    found = GearUnit.objects.filter(reach, site=room.site, retired=False, gear_model__kind__in=PLANNED_KINDS)
    leaves = Move.objects.open().exclude(room__site=room.site)
    if span.end is not None:
        leaves = leaves.filter(leaves_at__lt=span.end)
    found = found.exclude(pk__in=leaves.values("unit"))
    specs = ("gear_model__microphone", "gear_model__direct_box", "gear_model__preamp", "home_room", "site")
    return found.select_related(*specs).prefetch_related("channels", "stays").order_by("tag")


def state_of(room: Room, rooms: frozenset[int], units: list[GearUnit], span: Span, but_not: Origins) -> State:
    ids = [unit.resource_id for unit in units]
    ids += [channel.resource_id for unit in units for channel in unit.channels.all()]
    taken = {claim.resource_id: claim for claim in in_the_way(ids, span, but_not)}
    of_unit: dict[int, list[Fault]] = defaultdict(list)
    of_channel: dict[int, list[Fault]] = defaultdict(list)
    for fault in Fault.objects.during(span).filter(unit__site=room.site):
        if fault.channel_id:
            of_channel[fault.channel_id].append(fault)
        else:
            of_unit[fault.unit_id].append(fault)
    return State(room, rooms, span, taken, of_unit, of_channel)


def _stay(unit: GearUnit, state: State) -> Stay | None:
    """Where it will be when the span begins, unless it is due back at home before."""
    stay, start = stay_at(unit, state.span.start), state.span.start
    due = stay.due_at if stay else None
    return None if due is not None and timezone.now() < due <= start else stay


def place_of(unit: GearUnit, state: State) -> int | None:
    """The room that it stands in; None for what has no room of its own."""
    stay = _stay(unit, state)
    return stay.room_id if stay and stay.room_id else unit.home_room_id


def _pickup(unit: GearUnit, state: State, missing: list[Missing]) -> PickupUnit | None:
    model = unit.gear_model
    if model.kind == GearModel.Kind.MICROPHONE and hasattr(model, "microphone"):
        spec = model.microphone
        kind, pickup = spec.transducer, Pickup.MIC
    elif model.kind == GearModel.Kind.DI and hasattr(model, "direct_box"):
        kind, pickup = ("active di" if model.direct_box.active else "passive di"), Pickup.DI
    else:
        return None
    faults = state.of_unit[unit.pk] + [f for c in unit.channels.all() for f in state.of_channel[c.pk]]
    if why := lent(unit, state) or why_out(unit.resource_id, faults, state):
        missing.append(Missing(unit.tag, kind, why))
        return None
    figures = model.microphone if pickup is Pickup.MIC else model.direct_box
    return PickupUnit(
        tag=unit.tag,
        model=str(model),
        pickup=pickup,
        kind=kind,
        phantom=Phantom(unit.phantom or figures.phantom),
        own_supply=getattr(figures, "own_supply", False),
        current_ma=figures.current_ma,
        max_spl_db=getattr(figures, "max_spl_db", None),
        pad_db=0 if _lost(faults, Fault.Effect.PAD_STUCK) else getattr(figures, "pad_db", 0),
        inputs=max(1, model.channels),
        here=(place := place_of(unit, state)) is None or place in state.rooms,
        limits=limits_of(faults),
        value=int(unit.value or 0),
        only_patterns=_patterns_left(getattr(figures, "patterns", ""), faults),
        last_choice=last_choice_of(faults),
        gain_at_94_db=_gain_at_94_db(getattr(figures, "sensitivity_mv_pa", None)),
        weight_kg=weight_g / 1000 if (weight_g := getattr(figures, "weight_g", None)) else None,
        matched=unit.matched,
    )


def _gain_at_94_db(sensitivity_mv_pa: float | None) -> float | None:
    """Peaks are brought to the house's mark below full scale, as for the gain to begin with."""
    if not sensitivity_mv_pa or sensitivity_mv_pa < 0:
        return None
    peaks_dbu = settings.FULL_SCALE_DBU - settings.PEAK_MARGIN_DB
    return gain_db(microphone_dbu(ONE_PASCAL_DB_SPL, sensitivity_mv_pa), peaks_dbu)


def _preamp(unit: GearUnit, state: State, missing: list[Missing]) -> PreampUnit | None:
    """A rack stands in one room: whoever has a channel of it has all of it, and its phantom switches."""
    model = unit.gear_model
    if model.kind != GearModel.Kind.PREAMP or not hasattr(model, "preamp"):
        return None
    spec = model.preamp
    if why := lent(unit, state) or why_out(unit.resource_id, [], state):
        missing.append(Missing(unit.tag, "preamp channel", why))
        return None
    channels = [
        usable for channel in unit.channels.all() if (usable := _channel(unit, channel, state, missing))
    ]
    return PreampUnit(
        tag=unit.tag,
        model=str(model),
        channels=tuple(channels),
        switching=Switching(spec.switching),
        bank_size=spec.bank_size,
        drain_seconds=spec.drain_seconds,
        phantom_supply_ma=spec.phantom_supply_ma,
        here=place_of(unit, state) in state.rooms,
        least_gain_db=spec.gain_min_db,
        most_gain_db=spec.gain_max_db,
        pad_db=spec.pad_db,
    )


def _channel(unit: GearUnit, channel: Channel, state: State, missing: list[Missing]) -> PreampChannel | None:
    faults = state.of_unit[unit.pk] + state.of_channel[channel.pk]
    if why := why_out(channel.resource_id, faults, state):
        missing.append(Missing(str(channel), "preamp channel", why))
        return None
    noisy = [fault.above_gain_db for fault in faults if fault.effect == Fault.Effect.NOISY]
    return PreampChannel(
        number=channel.number,
        phantom_works=not _lost(faults, Fault.Effect.NO_PHANTOM),
        limits=limits_of(faults),
        last_choice=last_choice_of(faults) or any(limit is None for limit in noisy),
        noisy_above_db=min((limit for limit in noisy if limit is not None), default=None),
    )


def lent(unit: GearUnit, state: State) -> str:
    """With whom it is then; empty for what is in the house."""
    stay, tz = _stay(unit, state), state.room.site.tz
    if stay is None or stay.kind == Stay.Kind.ROOM:
        return ""
    return f"{stay.where}, {f'due back {say(stay.due_at, tz)}' if stay.due_at else 'no date yet'}"


def why_out(resource_id: int, faults: list[Fault], state: State) -> str:
    """Why it can't be used in the span, with the time it is back; empty when it can."""
    tz = state.room.site.tz
    for fault in faults:
        if fault.severity == Fault.Severity.OUT:
            back = f"expected back {say(fault.expected_back, tz)}" if fault.expected_back else "no date yet"
            return f"out of use ({fault.words or fault.get_effect_display()}), {back}"
    if claim := state.taken.get(resource_id):
        until = f" until {say(claim.ends, tz)}" if claim.ends else ""
        return f"{claim.get_purpose_display()}{_by(claim)}{until}"
    return ""


def _by(claim: Claim) -> str:
    """A session by its number: whoever reads the plan may be a freelancer, who is told no title but their own."""
    by_session = claim.origin_type_id == ContentType.objects.get_for_model(Session).pk
    return f" by session no. {claim.origin_id}" if by_session else f": {claim.reason}"


def _lost(faults: list[Fault], effect: Fault.Effect) -> bool:
    """A suspected function counts as lost: nobody should find out on the day."""
    return any(fault.effect == effect for fault in faults)


def last_choice_of(faults: list[Fault]) -> bool:
    """What is back and not yet heard, and what may fail as a whole."""
    return any(fault.step == Fault.Step.UNHEARD or _doubted(fault) for fault in faults)


def _doubted(fault: Fault) -> bool:
    return fault.severity == Fault.Severity.SUSPECTED and fault.effect in DOUBTFUL


def _patterns_left(patterns: str, faults: list[Fault]) -> tuple[str, ...]:
    """Empty where no pattern is dead. A dead one that nobody named may be any but the first."""
    dead = [fault.pattern for fault in faults if fault.effect == Fault.Effect.PATTERN]
    if not dead:
        return ()
    all_of_it = patterns_in(patterns) or ("cardioid",)
    gone = {pattern for text in dead for pattern in (patterns_in(text) or all_of_it[1:])}
    return tuple(pattern for pattern in all_of_it if pattern not in gone) or ("none",)


def limits_of(faults: list[Fault]) -> tuple[str, ...]:
    return tuple(_limit(fault) for fault in faults)


def _limit(fault: Fault) -> str:
    said = effect_in_words(fault) if fault.effect in (Fault.Effect.NOISY, Fault.Effect.PATTERN) else ""
    words = said or fault.words or fault.get_effect_display()
    if fault.step == Fault.Step.UNHEARD:
        return f"back, not yet heard: {words}"
    return f"suspected: {words}" if fault.severity == Fault.Severity.SUSPECTED else words
